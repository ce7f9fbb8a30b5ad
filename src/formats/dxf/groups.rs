//! The text of a DXF file: groups of a code and a value, a line each, and the handles of its items.

use std::fmt::Write as _;

use super::{DxfOptions, DxfVersion};
use crate::geom::Point;

/// Who owns an item of no other owner.
pub(super) const NOBODY: Handle = Handle(0);
/// The record of the block that holds the drawing.
pub(super) const MODEL_SPACE: Handle = Handle(1);
/// The record of the block that holds the sheet of paper, on which nothing stands.
pub(super) const PAPER_SPACE: Handle = Handle(2);

/// The number by which R2000 knows an item.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Handle(u32);

/// Groups as they are written, one behind the other.
pub(super) struct Groups {
    options: DxfOptions,
    text: String,
    next: Handle,
}

impl Groups {
    pub(super) const fn new(options: DxfOptions) -> Self {
        Self { options, text: String::new(), next: Handle(PAPER_SPACE.0 + 1) }
    }

    pub(super) fn is_r12(&self) -> bool {
        self.options.version == DxfVersion::R12
    }

    /// A handle that no other item has.
    pub(super) const fn fresh(&mut self) -> Handle {
        self.next = Handle(self.next.0 + 1);
        Handle(self.next.0 - 1)
    }

    /// A group of text.
    pub(super) fn word(&mut self, code: u16, value: &str) {
        let _ = write!(self.text, "{code:>3}\r\n{value}\r\n");
    }

    /// A group of a whole number.
    pub(super) fn count(&mut self, code: u16, value: usize) {
        self.word(code, &value.to_string());
    }

    /// A group of a number, to its twelfth decimal.
    pub(super) fn number(&mut self, code: u16, value: f64) {
        let digits = format!("{value:.12}");
        let short = digits.trim_end_matches('0');
        let end = if short.ends_with('.') { "0" } else { "" };
        // What is rounded to nothing has no sign.
        let is_nothing = short.trim_matches(['-', '0', '.']).is_empty();
        let sign = usize::from(short.starts_with('-') && is_nothing);
        self.word(code, &format!("{}{end}", &short[sign..]));
    }

    /// A length in mm, in the file's unit.
    pub(super) fn length(&mut self, code: u16, mm: f64) {
        self.number(code, self.options.unit.of(mm));
    }

    /// The two coordinates of a place in mm: `code` for x, ten more for y.
    pub(super) fn place(&mut self, code: u16, place: Point) {
        self.length(code, place.x);
        self.length(code + 10, place.y);
    }

    /// The group of a handle.
    pub(super) fn handle(&mut self, code: u16, handle: Handle) {
        self.word(code, &format!("{:X}", handle.0));
    }

    /// Begins an item with a handle of its own, which is returned.
    pub(super) fn item(&mut self, kind: &str, owner: Handle, class: &str) -> Handle {
        let own = self.fresh();
        self.item_of(own, kind, owner, class);
        own
    }

    /// Begins an item with the handle `own`. R12 knows neither handles nor owners nor classes.
    pub(super) fn item_of(&mut self, own: Handle, kind: &str, owner: Handle, class: &str) {
        self.word(0, kind);
        if !self.is_r12() {
            // 5 is another thing in a dimension style.
            self.handle(if kind == "DIMSTYLE" { 105 } else { 5 }, own);
            self.handle(330, owner);
            self.class(class);
        }
    }

    /// Says of what class the groups are that follow.
    pub(super) fn class(&mut self, class: &str) {
        if !self.is_r12() {
            self.word(100, class);
        }
    }

    /// Begins an entity of the drawing.
    pub(super) fn entity(&mut self, kind: &str, layer: &str, class: &str) {
        self.item(kind, MODEL_SPACE, "AcDbEntity");
        self.word(8, layer);
        self.class(class);
    }

    /// What `content` writes, between the marks of a section.
    pub(super) fn section(&mut self, name: &str, content: impl FnOnce(&mut Self)) {
        self.word(0, "SECTION");
        self.word(2, name);
        content(self);
        self.word(0, "ENDSEC");
    }

    /// A table, whose records `content` writes; each is owned by the handle that it is given.
    pub(super) fn table(&mut self, name: &str, content: impl FnOnce(&mut Self, Handle)) {
        self.word(0, "TABLE");
        self.word(2, name);
        let own = self.fresh();
        if !self.is_r12() {
            self.handle(5, own);
            self.handle(330, NOBODY);
        }
        self.class("AcDbSymbolTable");
        // How many there are; readers count for themselves.
        self.count(70, 0);
        content(self, own);
        self.word(0, "ENDTAB");
    }

    /// Begins a record of a table.
    pub(super) fn record(&mut self, kind: &str, table: Handle, class: &str, name: &str) {
        self.item(kind, table, "AcDbSymbolTableRecord");
        self.class(class);
        self.word(2, name);
        self.count(70, 0);
    }

    /// The header's variable `name`, whose value follows.
    pub(super) fn variable(&mut self, name: &str) {
        self.word(9, name);
    }

    /// All that was written, `head` before it.
    pub(super) fn behind(self, head: Self) -> Vec<u8> {
        (head.text + &self.text).into_bytes()
    }
}
