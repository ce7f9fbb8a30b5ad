//! What the style of an SVG element says of its shape: presentation attributes, `style` attributes,
//! the rules of `<style>` elements (W3C, CSS Cascading and Inheritance; CSS Transforms 1). Colours
//! and the like are passed over.

use kurbo::Affine;
use roxmltree::{Document, Node};

use crate::formats::outline::ImportProblem;
use crate::tolerance::MOST_STYLE_RULES;

/// What is done with a property that may change an outline.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Handling {
    /// It is read.
    Read,
    /// It is refused, wherever it is given.
    Refused,
    /// It is refused in styles; an attribute of that name means nothing.
    RefusedInStyles,
}

/// The properties that may change an outline or whether it is drawn.
const SHAPING: [(&str, Handling); 23] = [
    ("display", Handling::Read),
    ("visibility", Handling::Read),
    ("transform", Handling::Read),
    ("x", Handling::Read),
    ("y", Handling::Read),
    ("cx", Handling::Read),
    ("cy", Handling::Read),
    ("r", Handling::Read),
    ("rx", Handling::Read),
    ("ry", Handling::Read),
    ("width", Handling::Read),
    ("height", Handling::Read),
    ("d", Handling::Read),
    ("clip-path", Handling::Refused),
    ("mask", Handling::Refused),
    ("filter", Handling::Refused),
    ("transform-origin", Handling::Refused),
    ("transform-box", Handling::RefusedInStyles),
    ("translate", Handling::RefusedInStyles),
    ("rotate", Handling::RefusedInStyles),
    ("scale", Handling::RefusedInStyles),
    ("offset-path", Handling::RefusedInStyles),
    ("zoom", Handling::RefusedInStyles),
];

/// How much a declaration counts: marked important, of a style attribute, ids, classes, elements,
/// later ones before earlier ones.
type Weight = (bool, bool, usize, usize, usize, usize);

/// The rules of a file's `<style>` elements that may change an outline.
pub(in crate::formats) struct Rules {
    rules: Vec<Rule>,
}

struct Rule {
    element: Option<String>,
    ids: Vec<String>,
    classes: Vec<String>,
    order: usize,
    declarations: Vec<Declaration>,
}

#[derive(Clone)]
struct Declaration {
    property: usize,
    value: String,
    is_important: bool,
}

/// What holds for one element.
pub(in crate::formats) struct Style {
    values: [Option<String>; SHAPING.len()],
}

impl Style {
    /// The value of a property or attribute, if any is given.
    pub(in crate::formats) fn get(&self, property: &str) -> Option<&str> {
        let i = SHAPING.iter().position(|(name, _)| *name == property)?;
        self.values[i].as_deref()
    }

    /// Whether a property is given and not `none`.
    fn does(&self, property: &str) -> bool {
        self.get(property)
            .is_some_and(|value| !matches!(value, "none" | "auto" | "normal" | "initial"))
    }

    /// The first property that shapes an outline in a way that is not read.
    pub(in crate::formats) fn not_read(&self, node: Node) -> Option<&'static str> {
        let styled = self.get("d") != node.attribute("d").map(str::trim);
        let mut refused = SHAPING
            .iter()
            .filter(|(_, handling)| *handling != Handling::Read)
            .map(|(name, _)| *name);
        refused.find(|name| self.does(name)).or_else(|| styled.then_some("d"))
    }
}

impl Rules {
    /// Reads the `<style>` elements. A rule that may change an outline and whose selector is not
    /// understood is refused.
    pub(in crate::formats) fn of(file: &Document) -> Result<Self, ImportProblem> {
        let mut rules = Vec::new();
        for node in file.descendants().filter(|node| node.tag_name().name() == "style") {
            let text: String = node.children().filter_map(|child| child.text()).collect();
            let line = line_of(node);
            let is_for_screens = matches!(
                node.attribute("media").map(str::trim),
                None | Some("" | "all" | "screen")
            );
            for (selectors, body) in blocks(&without_comments(&text)) {
                let declarations = declarations(body);
                if selectors.starts_with('@') || !is_for_screens {
                    // Inside are rules of their own, or none that shape anything.
                    if SHAPING.iter().any(|(name, _)| {
                        body.split([';', '{', '}']).any(|part| is_named(part, name))
                    }) {
                        return Err(not_understood(
                            line,
                            format!("the style rule `{}`", shortened(selectors)),
                        ));
                    }
                    continue;
                }
                if declarations.is_empty() {
                    continue;
                }
                for selector in selectors.split(',') {
                    let order = rules.len();
                    let rule = rule(selector.trim(), order, &declarations);
                    rules.push(rule.ok_or_else(|| {
                        not_understood(
                            line,
                            format!("the style rule `{}`", shortened(selector.trim())),
                        )
                    })?);
                    if rules.len() > MOST_STYLE_RULES {
                        let message = format!(
                            "the file has more than {MOST_STYLE_RULES} style rules that may change an outline"
                        );
                        return Err(ImportProblem::Unfit { message });
                    }
                }
            }
        }
        Ok(Self { rules })
    }

    /// What holds for `node`, inherited values left out.
    pub(in crate::formats) fn style(&self, node: Node) -> Style {
        let mut values: [Option<(Weight, String)>; SHAPING.len()] = std::array::from_fn(|i| {
            let (name, handling) = SHAPING[i];
            let value = node.attribute(name).filter(|_| handling != Handling::RefusedInStyles);
            value.map(|value| ((false, false, 0, 0, 0, 0), value.trim().to_owned()))
        });
        let mut put = |declaration: &Declaration, weight: Weight| {
            let value = &mut values[declaration.property];
            if value.as_ref().is_none_or(|(other, _)| *other <= weight) {
                *value = Some((weight, declaration.value.clone()));
            }
        };
        for rule in self.rules.iter().filter(|rule| rule.is_for(node)) {
            for declaration in &rule.declarations {
                let elements = usize::from(rule.element.is_some());
                put(
                    declaration,
                    (
                        declaration.is_important,
                        false,
                        rule.ids.len(),
                        rule.classes.len(),
                        elements,
                        rule.order + 1,
                    ),
                );
            }
        }
        for declaration in
            declarations(&without_comments(node.attribute("style").unwrap_or_default()))
        {
            put(&declaration, (declaration.is_important, true, 0, 0, 0, 0));
        }
        Style { values: values.map(|value| value.map(|(_, value)| value)) }
    }
}

impl Rule {
    fn is_for(&self, node: Node) -> bool {
        let classes = || node.attribute("class").unwrap_or_default().split_whitespace();
        self.element.as_ref().is_none_or(|name| node.tag_name().name() == name)
            && self.ids.iter().all(|id| node.attribute("id") == Some(id))
            && self.classes.iter().all(|class| classes().any(|own| own == class))
    }
}

/// The line that an element begins in, from 1.
pub(in crate::formats) fn line_of(node: Node) -> u32 {
    node.document().text_pos_at(node.range().start).row
}

pub(in crate::formats) fn not_understood(line: u32, what: String) -> ImportProblem {
    ImportProblem::NotUnderstood { line, what }
}

/// A text as messages show it.
pub(in crate::formats) fn shortened(text: &str) -> String {
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    if words.chars().count() <= 60 {
        words
    } else {
        words.chars().take(59).chain(['…']).collect()
    }
}

fn without_comments(text: &str) -> String {
    let mut rest = text;
    let mut kept = String::new();
    while let Some(start) = rest.find("/*") {
        kept.push_str(&rest[..start]);
        kept.push(' ');
        rest = rest[start..].find("*/").map_or("", |end| &rest[start + end + 2..]);
    }
    kept.push_str(rest);
    kept.replace("<!--", " ").replace("-->", " ")
}

/// The blocks of a style sheet: what stands before its brace, and what stands between its braces,
/// inner ones included.
fn blocks(text: &str) -> Vec<(&str, &str)> {
    let mut all = Vec::new();
    let mut rest = text;
    while let Some(open) = rest.find('{') {
        let mut depth = 0_usize;
        let end = rest[open..].char_indices().find(|(_, c)| {
            match c {
                '{' => depth += 1,
                '}' => depth -= 1,
                _ => {}
            }
            depth == 0
        });
        let close = end.map_or(rest.len(), |(at, _)| open + at);
        // A statement such as `@charset "utf-8";` may stand before.
        let selectors = rest[..open].rsplit(';').next().unwrap_or_default().trim();
        all.push((selectors, &rest[open + 1..close]));
        rest = rest.get(close + 1..).unwrap_or_default();
    }
    all
}

fn is_named(part: &str, property: &str) -> bool {
    part.split_once(':').is_some_and(|(name, _)| name.trim().eq_ignore_ascii_case(property))
}

/// The declarations that may change an outline.
fn declarations(text: &str) -> Vec<Declaration> {
    let mut all = Vec::new();
    for part in text.split(';') {
        let Some((name, value)) = part.split_once(':') else { continue };
        let name = name.trim().to_ascii_lowercase();
        let Some(property) = SHAPING.iter().position(|(known, _)| *known == name) else { continue };
        let (value, is_important) = match value.trim().strip_suffix("!important") {
            Some(value) => (value.trim(), true),
            None => (value.trim(), false),
        };
        all.push(Declaration { property, value: value.to_owned(), is_important });
    }
    all
}

/// A rule for elements of one name, ids or classes; none where the selector says more.
fn rule(selector: &str, order: usize, declarations: &[Declaration]) -> Option<Rule> {
    let is_name = |name: &str| {
        !name.is_empty() && name.chars().all(|c| c.is_alphanumeric() || matches!(c, '-' | '_'))
    };
    let begins = selector.find(['.', '#']).unwrap_or(selector.len());
    let (element, mut rest) = selector.split_at(begins);
    let mut rule = Rule {
        element: None,
        ids: Vec::new(),
        classes: Vec::new(),
        order,
        declarations: declarations.to_vec(),
    };
    match element {
        "*" => {}
        "" if !rest.is_empty() => {}
        name if is_name(name) => rule.element = Some(name.to_owned()),
        _ => return None,
    }
    while !rest.is_empty() {
        let (mark, after) = rest.split_at(1);
        let (name, further) = after.split_at(after.find(['.', '#']).unwrap_or(after.len()));
        if !is_name(name) {
            return None;
        }
        if mark == "." {
            rule.classes.push(name.to_owned());
        } else {
            rule.ids.push(name.to_owned());
        }
        rest = further;
    }
    Some(rule)
}

/// A CSS transform, whose lengths have a unit and whose angles have one; none where it is not
/// understood.
pub(in crate::formats) fn css_transform(text: &str) -> Option<Affine> {
    let mut whole = Affine::IDENTITY;
    let mut rest = text.trim();
    if rest == "none" {
        return Some(whole);
    }
    while !rest.is_empty() {
        let (name, after) = rest.split_once('(')?;
        let (arguments, further) = after.split_once(')')?;
        let arguments: Vec<&str> = arguments.split(',').map(str::trim).collect();
        let one = match (name.trim().to_ascii_lowercase().as_str(), arguments.as_slice()) {
            ("translate" | "translatex", [x]) => Affine::translate((css_length(x)?, 0.0)),
            ("translate", [x, y]) => Affine::translate((css_length(x)?, css_length(y)?)),
            ("translatey", [y]) => Affine::translate((0.0, css_length(y)?)),
            ("scale", [both]) => Affine::scale(css_number(both)?),
            ("scale", [x, y]) => Affine::scale_non_uniform(css_number(x)?, css_number(y)?),
            ("scalex", [x]) => Affine::scale_non_uniform(css_number(x)?, 1.0),
            ("scaley", [y]) => Affine::scale_non_uniform(1.0, css_number(y)?),
            ("rotate", [angle]) => Affine::rotate(css_angle(angle)?),
            ("skewx", [angle]) => Affine::skew(css_angle(angle)?.tan(), 0.0),
            ("skewy", [angle]) => Affine::skew(0.0, css_angle(angle)?.tan()),
            ("matrix", [a, b, c, d, e, f]) => {
                let numbers = [a, b, c, d, e, f].map(|text| css_number(text));
                let [Some(a), Some(b), Some(c), Some(d), Some(e), Some(f)] = numbers else {
                    return None;
                };
                Affine::new([a, b, c, d, e, f])
            }
            _ => return None,
        };
        whole *= one;
        rest = further.trim_start();
    }
    Some(whole)
}

fn css_number(text: &str) -> Option<f64> {
    text.parse().ok().filter(|number: &f64| number.is_finite())
}

/// The number before the first of these units; 0 needs none.
fn css_quantity(text: &str, units: &[(&str, f64)]) -> Option<f64> {
    if css_number(text) == Some(0.0) {
        return Some(0.0);
    }
    let text = text.to_ascii_lowercase();
    units.iter().find_map(|(unit, factor)| Some(css_number(text.strip_suffix(unit)?)? * factor))
}

fn css_length(text: &str) -> Option<f64> {
    let inch = 96.0;
    let units = [
        ("px", 1.0),
        ("mm", inch / 25.4),
        ("cm", inch / 2.54),
        ("in", inch),
        ("pt", inch / 72.0),
        ("pc", inch / 6.0),
    ];
    css_quantity(text, &units)
}

fn css_angle(text: &str) -> Option<f64> {
    // `grad` before `rad`, which it ends in.
    let turn = std::f64::consts::TAU;
    css_quantity(
        text,
        &[("deg", turn / 360.0), ("grad", turn / 400.0), ("rad", 1.0), ("turn", turn)],
    )
}
