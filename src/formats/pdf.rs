//! PDF (ISO 32000-1): vector pages at true size. Letters are strokes of our own
//! [`lettering`], so a file needs no fonts; the same pages always give the same bytes. A letter, and
//! a drawing that stands on several sheets, is written once, as a form that pages refer to.

use std::collections::BTreeMap;
use std::sync::Arc;

use kurbo::CubicBez;
use miniz_oxide::deflate::compress_to_vec_zlib;
use pdf_writer::types::{LineCapStyle, LineJoinStyle};
use pdf_writer::writers::Resources;
use pdf_writer::{Content, Filter, Finish, Name, Pdf, Ref};

use super::line_style::{GREY, PenStyle, ink_colour, pen_style, style};
use super::{WriteProblem, refuse_non_finite};
use crate::geom::{Affine, Point, Rect, Segment};
use crate::page::{
    Anchor, Drawing, Item, Layer, Mark, Paper, Pen, Picture, Shape, View, lettering,
};

/// Points in a millimetre.
const POINTS: f64 = 72.0 / 25.4;
/// How far a cubic may be from the arc that it stands for, mm.
const ARC_TO_CUBICS: f64 = 1e-3;
/// How far the cubic of a quarter turn leaves its arc, over the radius.
const QUARTER_TURN_ERROR: f64 = 2.73e-4;
/// Width of a letter's stroke over the height of a capital.
const LETTER_PEN: f64 = 0.1;
/// Height of a capital in the form of a letter: of its hundredths no more is seen.
const LETTER_HEIGHT: f64 = 100.0;
/// Steps of a coordinate in a millimetre.
const STEPS_PER_MM: f64 = 1e4;
/// How hard pages are packed; more takes time and saves little.
const PACKING: u8 = 6;

/// Sheets of paper as a PDF file, one page each, which viewers print at its own size.
pub fn paper_pdf(pages: &[Paper]) -> Result<Vec<u8>, WriteProblem> {
    let mut forms = Forms::default();
    let mut written = Vec::new();
    for paper in pages {
        for view in &paper.views {
            refuse_non_finite(&view.drawing)?;
        }
        let numbers = [paper.size, paper.stretch];
        if !numbers.iter().all(|(x, y)| x.is_finite() && y.is_finite()) {
            return Err(WriteProblem::NotFinite { layer: None });
        }
        let (across, up) = paper.stretch;
        let unit = Affine::scale_non_uniform(POINTS * across, POINTS * up);
        let mut page = Page::new(unit, &mut forms);
        for view in &paper.views {
            page.view(view);
        }
        written.push((paper.size, page.content));
    }
    Ok(file(written, &forms))
}

/// A picture as a PDF file of one page of its size.
pub fn picture_pdf(picture: &Picture) -> Result<Vec<u8>, WriteProblem> {
    let is_finite = |item: &Item| match item {
        Item::Fill { outlines: chains, .. } | Item::Lines { chains, .. } => {
            chains.iter().flatten().all(|p| p.is_finite())
        }
        Item::Words { at, height, .. } => at.is_finite() && height.is_finite(),
    };
    let (width, height) = picture.size;
    if !(width.is_finite() && height.is_finite() && picture.items.iter().all(is_finite)) {
        return Err(WriteProblem::NotFinite { layer: None });
    }
    // A picture's y runs down its page.
    let unit = Affine::scale(POINTS) * Affine::new([1.0, 0.0, 0.0, -1.0, 0.0, height]);
    let mut forms = Forms::default();
    let mut page = Page::new(unit, &mut forms);
    for item in &picture.items {
        page.item(item);
    }
    let content = page.content;
    Ok(file(vec![(picture.size, content)], &forms))
}

/// What pages refer to by name, each written once.
#[derive(Default)]
struct Forms {
    written: Vec<Form>,
    letters: BTreeMap<char, usize>,
    drawings: Vec<(Arc<Drawing>, Option<Pen>, usize)>,
}

struct Form {
    content: Vec<u8>,
    /// Nothing of it lies outside.
    bounds: Rect,
}

impl Forms {
    fn add(&mut self, content: Content, bounds: Rect) -> usize {
        self.written.push(Form { content: content.finish().into_vec(), bounds });
        self.written.len() - 1
    }

    /// The form of a letter, its capitals [`LETTER_HEIGHT`] high.
    fn letter(&mut self, letter: char) -> usize {
        if let Some(form) = self.letters.get(&letter) {
            return *form;
        }
        let mut content = Content::new();
        for stroke in lettering::strokes(letter.encode_utf8(&mut [0; 4]), LETTER_HEIGHT) {
            for (i, point) in stroke.iter().enumerate() {
                let [x, y] = [point.x, point.y].map(|value| single(value.round()));
                if i == 0 {
                    content.move_to(x, y);
                } else {
                    content.line_to(x, y);
                }
            }
        }
        content.stroke();
        let side = 2.0 * LETTER_HEIGHT;
        let form = self.add(content, Rect::new(-side, -side, side, side));
        self.letters.insert(letter, form);
        form
    }

    /// The form of a drawing in its own coordinates.
    fn drawing(&mut self, drawing: &Arc<Drawing>, pen: Option<Pen>) -> usize {
        let known = self
            .drawings
            .iter()
            .find(|(other, other_pen, _)| Arc::ptr_eq(drawing, other) && *other_pen == pen);
        if let Some((.., form)) = known {
            return *form;
        }
        let view =
            View { drawing: Arc::clone(drawing), place: Affine::IDENTITY, window: None, pen };
        let mut page = Page { content: Content::new(), forms: self };
        page.content.set_line_join(LineJoinStyle::RoundJoin);
        page.marks(&view);
        let content = page.content;
        let bounds = drawing.marks.iter().map(bounds_of).reduce(|a, b| a.union(b));
        let form = self.add(content, bounds.unwrap_or(Rect::ZERO).inflate(1.0, 1.0));
        self.drawings.push((Arc::clone(drawing), pen, form));
        form
    }
}

/// The file of pages, each of its width and height in mm.
fn file(pages: Vec<((f64, f64), Content)>, forms: &Forms) -> Vec<u8> {
    let numbered = |n: usize| Ref::new(i32::try_from(n).unwrap_or(i32::MAX));
    let [catalog, tree, resources] = [1, 2, 3].map(numbered);
    let form_ids: Vec<Ref> = (0..forms.written.len()).map(|i| numbered(4 + i)).collect();
    let first_page = 4 + form_ids.len();
    let ids: Vec<(Ref, Ref)> = (0..pages.len())
        .map(|i| (numbered(first_page + 2 * i), numbered(first_page + 1 + 2 * i)))
        .collect();
    let mut pdf = Pdf::new();
    let mut root = pdf.catalog(catalog);
    root.pages(tree);
    root.viewer_preferences().insert(Name(b"PrintScaling")).primitive(Name(b"None"));
    root.finish();
    pdf.pages(tree)
        .count(i32::try_from(ids.len()).unwrap_or(i32::MAX))
        .kids(ids.iter().map(|(page, _)| *page));
    let mut named = pdf.indirect(resources).start::<Resources>();
    let mut names = named.x_objects();
    for (i, id) in form_ids.iter().enumerate() {
        names.pair(Name(form_name(i).as_bytes()), *id);
    }
    names.finish();
    named.finish();
    for (form, id) in forms.written.iter().zip(&form_ids) {
        let [x0, y0, x1, y1] =
            [form.bounds.x0, form.bounds.y0, form.bounds.x1, form.bounds.y1].map(single);
        let packed = compress_to_vec_zlib(&form.content, PACKING);
        // A letter is short enough as it is.
        let is_shorter = packed.len() + 20 < form.content.len();
        let bytes = if is_shorter { &packed } else { &form.content };
        let mut written = pdf.form_xobject(*id, bytes);
        written.bbox(pdf_writer::Rect::new(x0, y0, x1, y1));
        written.pair(Name(b"Resources"), resources);
        if is_shorter {
            written.filter(Filter::FlateDecode);
        }
    }
    for (((width, height), content), (page_id, content_id)) in pages.into_iter().zip(ids) {
        let whole =
            pdf_writer::Rect::new(0.0, 0.0, single(width * POINTS), single(height * POINTS));
        let mut page = pdf.page(page_id);
        page.parent(tree).media_box(whole).crop_box(whole).contents(content_id);
        page.pair(Name(b"Resources"), resources);
        page.finish();
        let packed = compress_to_vec_zlib(content.finish().as_slice(), PACKING);
        pdf.stream(content_id, &packed).filter(Filter::FlateDecode);
    }
    pdf.finish()
}

fn form_name(form: usize) -> String {
    format!("f{form}")
}

/// As PDF files hold numbers.
#[expect(clippy::cast_possible_truncation, reason = "on paper seven digits are a micrometre")]
const fn single(value: f64) -> f32 {
    value as f32
}

/// A coordinate in mm.
fn length(value: f64) -> f32 {
    single((value * STEPS_PER_MM).round() / STEPS_PER_MM)
}

/// A page or form while it is written, in mm.
struct Page<'a> {
    content: Content,
    forms: &'a mut Forms,
}

impl<'a> Page<'a> {
    /// A page whose millimetres `unit` takes to points.
    fn new(unit: Affine, forms: &'a mut Forms) -> Self {
        let mut content = Content::new();
        content.transform(unit.as_coeffs().map(single));
        content.set_line_join(LineJoinStyle::RoundJoin);
        Self { content, forms }
    }

    fn view(&mut self, view: &View) {
        self.content.save_state();
        match view.window {
            Some(window) => {
                let [x, y, width, height] =
                    [window.x0, window.y0, window.width(), window.height()].map(length);
                self.content.rect(x, y, width, height).clip_nonzero().end_path();
                // Its other tiles show the same drawing.
                let form = self.forms.drawing(&view.drawing, view.pen);
                self.content.transform(view.place.as_coeffs().map(single));
                self.content.x_object(Name(form_name(form).as_bytes()));
            }
            None => self.marks(view),
        }
        self.content.restore_state();
    }

    fn marks(&mut self, view: &View) {
        for layer in Layer::ALL {
            let mut lines = lines_of(&view.drawing, layer).peekable();
            if lines.peek().is_none() {
                continue;
            }
            self.pen(&view.pen.map_or_else(|| layer_pen(layer), pen_style));
            for mark in lines {
                match &mark.shape {
                    Shape::Closed(outline) => self.chain(outline.segments(), true, view.place),
                    Shape::Open(chain) => self.chain(chain.iter().copied(), false, view.place),
                    Shape::Text { .. } => {}
                }
            }
        }
        for mark in &view.drawing.marks {
            if let Shape::Text { at, height, angle, centred, text } = &mark.shape {
                let start = if *centred { -lettering::width(text, *height) / 2.0 } else { 0.0 };
                let place = view.place
                    * Affine::translate(at.to_vec2())
                    * Affine::rotate(*angle)
                    * Affine::translate((start, 0.0));
                self.words(text, *height, place);
            }
        }
    }

    fn item(&mut self, item: &Item) {
        match item {
            Item::Fill { ink, outlines } => {
                let [red, green, blue] = colour(ink_colour(*ink));
                self.content.set_fill_rgb(red, green, blue);
                for outline in outlines {
                    self.points(outline, Affine::IDENTITY);
                    self.content.close_path();
                }
                self.content.fill_even_odd();
            }
            Item::Lines { pen, chains } => {
                let look = pen_style(*pen);
                let casing =
                    PenStyle { colour: "#ffffff", width: look.casing, dashes: &[], casing: 0.0 };
                for look in [casing, look].iter().filter(|look| look.width > 0.0) {
                    self.pen(look);
                    for chain in chains {
                        self.points(chain, Affine::IDENTITY);
                        if chain.len() > 2 && chain.first() == chain.last() {
                            self.content.close_path();
                        }
                        self.content.stroke();
                    }
                }
            }
            Item::Words { at, height, anchor, upward, text } => {
                let width = lettering::width(text, *height);
                let start = match anchor {
                    Anchor::Start => 0.0,
                    Anchor::Middle => -width / 2.0,
                    Anchor::End => -width,
                };
                let place = if *upward {
                    Affine::new([0.0, -1.0, -1.0, 0.0, at.x, at.y - start])
                } else {
                    Affine::new([1.0, 0.0, 0.0, -1.0, at.x + start, at.y])
                };
                self.words(text, *height, place);
            }
        }
    }

    fn pen(&mut self, look: &PenStyle) {
        let [red, green, blue] = colour(look.colour);
        self.content
            .set_stroke_rgb(red, green, blue)
            .set_line_width(single(look.width))
            .set_line_cap(LineCapStyle::ButtCap)
            .set_dash_pattern(look.dashes.iter().map(|dash| single(*dash)), 0.0);
    }

    /// A line of text in black, its base line laid by `place`.
    fn words(&mut self, text: &str, height: f64, place: Affine) {
        let scale = height / LETTER_HEIGHT;
        self.content.save_state();
        let width = LETTER_PEN * LETTER_HEIGHT;
        self.pen(&PenStyle { colour: "#000000", width, dashes: &[], casing: 0.0 });
        self.content.set_line_cap(LineCapStyle::RoundCap);
        self.content.transform((place * Affine::scale(scale)).as_coeffs().map(single));
        for letter in text.chars() {
            let advance = lettering::width(letter.encode_utf8(&mut [0; 4]), LETTER_HEIGHT);
            if letter != ' ' {
                let form = self.forms.letter(letter);
                self.content.x_object(Name(form_name(form).as_bytes()));
            }
            self.content.transform([1.0, 0.0, 0.0, 1.0, single(advance), 0.0]);
        }
        self.content.restore_state();
    }

    fn points(&mut self, chain: &[Point], place: Affine) {
        for (i, point) in chain.iter().enumerate() {
            let [x, y] = at(place * *point);
            if i == 0 {
                self.content.move_to(x, y);
            } else {
                self.content.line_to(x, y);
            }
        }
    }

    /// Strokes pieces that follow one another.
    fn chain(&mut self, segments: impl Iterator<Item = Segment>, closed: bool, place: Affine) {
        let mut started = false;
        for segment in segments {
            if !started {
                let [x, y] = at(place * segment.from());
                self.content.move_to(x, y);
                started = true;
            }
            if segment.is_straight() {
                let [x, y] = at(place * segment.to());
                self.content.line_to(x, y);
                continue;
            }
            for cubic in cubics(&segment) {
                let [[x1, y1], [x2, y2], [x3, y3]] =
                    [cubic.p1, cubic.p2, cubic.p3].map(|point| at(place * point));
                self.content.cubic_to(x1, y1, x2, y2, x3, y3);
            }
        }
        if closed && started {
            self.content.close_path();
        }
        self.content.stroke();
    }
}

fn at(point: Point) -> [f32; 2] {
    [length(point.x), length(point.y)]
}

fn lines_of(drawing: &Drawing, layer: Layer) -> impl Iterator<Item = &Mark> {
    drawing
        .marks
        .iter()
        .filter(move |mark| mark.layer == layer && !matches!(mark.shape, Shape::Text { .. }))
}

/// A rectangle around the mark.
fn bounds_of(mark: &Mark) -> Rect {
    match &mark.shape {
        Shape::Closed(outline) => outline.bounds(),
        Shape::Open(chain) => {
            chain.iter().map(Segment::bounds).reduce(|a, b| a.union(b)).unwrap_or(Rect::ZERO)
        }
        Shape::Text { at, height, text, .. } => {
            let reach = 2.0 * (lettering::width(text, *height) + 2.0 * height);
            Rect::from_center_size(*at, (reach, reach))
        }
    }
}

/// How the lines of a layer look on paper.
fn layer_pen(layer: Layer) -> PenStyle {
    let look = style(layer);
    PenStyle { colour: look.colour, width: look.width, dashes: look.dashes, casing: 0.0 }
}

/// Red, green and blue from 0 to 1 of a colour as CSS writes it; grey where it cannot be read.
fn colour(css: &str) -> [f32; 3] {
    let channel = |css: &str, from: usize| {
        css.get(from..from + 2).and_then(|digits| u8::from_str_radix(digits, 16).ok())
    };
    let read = |css: &str| Some([channel(css, 1)?, channel(css, 3)?, channel(css, 5)?]);
    // Three decimals tell 256 steps apart.
    read(css)
        .or_else(|| read(GREY))
        .unwrap_or_default()
        .map(|step| (f32::from(step) / 255.0 * 1000.0).round() / 1000.0)
}

/// The piece as cubic curves, [`ARC_TO_CUBICS`] off it at most.
fn cubics(segment: &Segment) -> Vec<CubicBez> {
    match *segment {
        Segment::Curve(curve) => vec![curve],
        Segment::Line { from, to } => {
            vec![CubicBez::new(from, from.lerp(to, 1.0 / 3.0), from.lerp(to, 2.0 / 3.0), to)]
        }
        Segment::Arc { bulge, .. } => {
            let radius = segment.curvature_at(0.0).abs().recip();
            let quarters = 4.0 * bulge.abs().atan() / std::f64::consts::FRAC_PI_2;
            // The error goes with the sixth power of the angle.
            let finer = (QUARTER_TURN_ERROR * radius / ARC_TO_CUBICS).powf(1.0 / 6.0);
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "clamped to 1..=1000"
            )]
            let pieces = (quarters * finer.max(1.0) - 1e-9).ceil().clamp(1.0, 1000.0) as u32;
            let share = |i: u32| f64::from(i) / f64::from(pieces);
            (0..pieces).map(|i| arc_cubic(&segment.between(share(i), share(i + 1)))).collect()
        }
    }
}

/// The cubic that touches the arc at its ends and in its middle.
fn arc_cubic(arc: &Segment) -> CubicBez {
    let (from, to) = (arc.from(), arc.to());
    let bulge = if let Segment::Arc { bulge, .. } = arc { *bulge } else { 0.0 };
    let handle = from.distance(to) * (1.0 + bulge * bulge) / 3.0;
    CubicBez::new(from, from + arc.tangent_at(0.0) * handle, to - arc.tangent_at(1.0) * handle, to)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::Polyarc;
    use crate::page::Ink;
    use kurbo::ParamCurve;

    /// What the file's streams say, unpacked.
    fn said(bytes: &[u8]) -> String {
        let find = |from: usize, what: &[u8]| {
            bytes[from..].windows(what.len()).position(|at| at == what).map(|at| from + at)
        };
        let (mut all, mut from) = (Vec::new(), 0);
        while let Some(start) = find(from, b"stream\n") {
            let end = find(start, b"\nendstream").expect("an end");
            let stream = &bytes[start + b"stream\n".len()..end];
            let unpacked = miniz_oxide::inflate::decompress_to_vec_zlib(stream);
            all.extend(unpacked.unwrap_or_else(|_| stream.to_vec()));
            from = end + b"\nendstream".len();
        }
        String::from_utf8(all).expect("ASCII")
    }

    fn plate() -> Paper {
        let mut drawing = Drawing::new("plate");
        drawing.closed(Layer::Outside, Polyarc::rectangle(Rect::new(10.0, 10.0, 60.0, 40.0)));
        drawing.closed(Layer::Opening, Polyarc::circle(Point::new(35.0, 25.0), 5.0));
        drawing.line(Layer::FoldUp, Point::new(10.0, 30.0), Point::new(60.0, 30.0));
        drawing.label(Point::new(35.0, 35.0), 3.0, "plate");
        let view = View {
            window: Some(Rect::new(5.0, 5.0, 100.0, 100.0)),
            ..View::on_paper(drawing, None)
        };
        Paper { size: (210.0, 297.0), stretch: (1.008, 0.996), views: vec![view] }
    }

    #[test]
    fn a_page_has_its_size_twice_and_is_printed_as_it_is() {
        let bytes =
            paper_pdf(&[plate(), Paper { size: (297.0, 420.0), ..plate() }]).expect("sound");
        let text = String::from_utf8_lossy(&bytes);
        for name in ["MediaBox", "CropBox"] {
            assert!(text.contains(&format!("/{name} [0 0 595.2756 841.8898]")), "{text}");
            assert!(text.contains(&format!("/{name} [0 0 841.8898 1190.551")), "{text}");
        }
        assert!(text.contains("/PrintScaling /None") && text.contains("/Count 2"));
        for absent in ["UserUnit", "/Font", "Date", "/ID", "/Info"] {
            assert!(!text.contains(absent), "{absent}");
        }
        assert_eq!(
            bytes,
            paper_pdf(&[plate(), Paper { size: (297.0, 420.0), ..plate() }]).expect("sound")
        );
    }

    #[test]
    fn lines_are_clipped_stretched_coloured_and_dashed() {
        let page = said(&paper_pdf(&[plate()]).expect("sound"));
        assert!(page.contains("2.857323 0 0 2.8233"), "{page}");
        assert!(page.contains("5 5 95 95 re\nW\nn\n"), "{page}");
        // Dashes and colour of a bend toward the viewer, and its line.
        let bend = "0 0.62 0.451 RG\n0.35 w\n0 J\n[9 3] 0 d\n10 30 m\n60 30 l\nS";
        assert!(page.contains(bend), "{page}");
        assert!(page.contains("0 0.447 0.698 RG\n0.3 w\n0 J\n[] 0 d\n"), "{page}");
        // Of two half turns, each in three cubics within a micrometre.
        assert_eq!(page.matches(" c\n").count(), 6, "{page}");
    }

    #[test]
    fn letters_and_the_drawing_of_several_sheets_are_written_once() {
        let once = said(&paper_pdf(&[plate()]).expect("sound"));
        let two = said(
            &paper_pdf(&[plate(), plate()].map(|paper| Paper {
                views: vec![View { drawing: Arc::clone(&shared()), ..paper.views[0].clone() }],
                ..paper
            }))
            .expect("sound"),
        );
        assert_eq!(once.matches("[9 3] 0 d").count(), 1);
        assert_eq!(two.matches("[9 3] 0 d").count(), 1, "{two}");
        assert_eq!(two.matches("re\nW\nn\n").count(), 2, "{two}");
    }

    fn shared() -> Arc<Drawing> {
        static DRAWING: std::sync::LazyLock<Arc<Drawing>> =
            std::sync::LazyLock::new(|| Arc::clone(&plate().views[0].drawing));
        Arc::clone(&DRAWING)
    }

    #[test]
    fn cubics_stay_on_their_arc() {
        for (radius, bulge) in [(5.0, 1.0), (500.0, 0.9), (20_000.0, 0.2), (40.0, -0.4)] {
            let sweep = 4.0 * f64::atan(bulge);
            let from = Point::new(radius, 0.0);
            let to = Point::new(radius * sweep.cos(), radius * sweep.sin());
            for cubic in cubics(&Segment::Arc { from, to, bulge }) {
                for i in 0..=20 {
                    let off = cubic.eval(f64::from(i) / 20.0).to_vec2().hypot() - radius;
                    assert!(off.abs() < 1.05 * ARC_TO_CUBICS, "{off} at a radius of {radius}");
                }
            }
        }
    }

    #[test]
    fn a_picture_is_a_page_of_its_size_with_areas_lines_and_words() {
        let mut picture = Picture { size: (100.0, 50.0), ..Picture::default() };
        let corners =
            |x0: f64, x1: f64| [(x0, 5.0), (x1, 5.0), (x1, 45.0), (x0, 45.0)].map(Point::from);
        picture.fill(Ink::Metal, vec![corners(5.0, 45.0).to_vec(), corners(10.0, 20.0).to_vec()]);
        picture.lines(Pen::Caution, vec![corners(50.0, 60.0).to_vec()]);
        picture.words((70.0, 30.0), 4.0, Anchor::Middle, "T");
        let bytes = picture_pdf(&picture).expect("sound");
        assert!(String::from_utf8_lossy(&bytes).contains("/MediaBox [0 0 283.46457 141.73228]"));
        let page = said(&bytes);
        assert!(page.contains("f*") && page.contains("0.769 0.769 0.769 rg"), "{page}");
        // White under the broken line of an edge to take care with.
        assert!(page.contains("1 1 1 RG\n1.9 w") && page.contains("[4 1.5] 0 d"), "{page}");
        // The T's middle over its place, on a page whose y runs down; its bar above its base line.
        assert!(page.contains("0.04 0 0 -0.04 68.2 30 cm\n"), "{page}");
        assert!(page.contains("15 100 m\n75 100 l\n"), "{page}");
    }

    #[test]
    fn what_is_not_a_number_is_refused() {
        let mut paper = plate();
        let mut drawing = Drawing::clone(&paper.views[0].drawing);
        drawing.line(Layer::Scribe, Point::new(f64::NAN, 0.0), Point::ORIGIN);
        paper.views[0].drawing = Arc::new(drawing);
        assert_eq!(
            paper_pdf(&[paper]),
            Err(WriteProblem::NotFinite { layer: Some(Layer::Scribe) })
        );
        let picture = Picture { size: (f64::INFINITY, 1.0), ..Picture::default() };
        assert!(picture_pdf(&picture).is_err());
    }
}
