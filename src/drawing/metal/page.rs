//! The page of a map: title, legend, the blank, the formed part, and what is said about places.

use super::Subject;
use super::stretches::{Stretch, stretches};
use super::surface::Node;
use super::view::{Isometric, Plan, View, bounds_of, draw_bands, draw_formed, on_page};
use crate::drawing::label::{width_of, wrapped};
use crate::drawing::seen_face;
use crate::geom::{Affine, Point, Rect, Segment};
use crate::page::{Anchor, Ink, Pen, Picture, closed, corners_of};
use crate::part::Part;
use crate::shop::material::StrainLimit;
use crate::tolerance::SOLID_CHORD;
use crate::units::Digits;

/// Width of the page, and of its margins, mm.
const PAGE: f64 = 400.0;
const MARGIN: f64 = 10.0;
/// Heights of capitals: title, headings and labels, explanations, mm.
const TITLE: f64 = 5.0;
const WORDS: f64 = 3.2;
const SMALL: f64 = 2.8;
/// The most height for a view, mm.
const TALLEST: f64 = 210.0;
/// A blank this much wider than high gets the page's whole width.
const WIDE: f64 = 1.5;
/// Height of the strip above and below a view in which its labels stand, mm.
const STRIP: f64 = 12.0;

/// Words about a place.
struct Label {
    at: Point,
    text: String,
}

/// The picture of a subject.
pub(super) fn draw_page(subject: &Subject) -> Picture {
    let part = subject.part;
    let hand = if subject.other_hand { ", other hand" } else { "" };
    let title = format!("{}{hand}: {}", part.name, subject.heading);
    let mut picture = Picture { title: title.clone(), ..Picture::default() };
    let mut y = MARGIN + TITLE;
    picture.words((MARGIN, y), TITLE, Anchor::Start, title);
    y += 8.0;
    picture.words((MARGIN, y), WORDS, Anchor::Start, sheet_words(subject));
    y += 13.0;
    let limits = Limits::of(subject);
    draw_legend(&mut picture, subject, y);
    limits.draw_legend(&mut picture, y);
    y += 22.0;
    let blank = subject.flat.outside.bounds();
    let isometric = Isometric { other_hand: subject.other_hand };
    let face = subject.surface.face.iter().flatten().map(|p| isometric.project([p.x, p.y, 0.0]));
    let corners = subject.surface.triangles.iter().flatten();
    let formed =
        bounds_of(corners.map(|i| isometric.place(&subject.surface.nodes[*i])).chain(face));
    let whole = PAGE - 2.0 * MARGIN;
    let y = if blank.width() > WIDE * blank.height() {
        let y =
            draw_blank(&mut picture, subject, &limits, &Frame::new(MARGIN, y, whole, blank)) + 8.0;
        draw_shell(
            &mut picture,
            subject,
            &limits,
            &isometric,
            &Frame::new(MARGIN, y, whole, formed),
        )
    } else {
        let half = whole / 2.0 - 5.0;
        let left = draw_blank(&mut picture, subject, &limits, &Frame::new(MARGIN, y, half, blank));
        left.max(draw_shell(
            &mut picture,
            subject,
            &limits,
            &isometric,
            &Frame::new(MARGIN + half + 10.0, y, half, formed),
        ))
    };
    let mut y = y + 4.0;
    for note in notes(subject, &limits) {
        for line in wrapped(&note, SMALL, whole) {
            y += SMALL * 1.9;
            picture.words((MARGIN, y), SMALL, Anchor::Start, line);
        }
    }
    picture.size = (PAGE, (y + MARGIN).ceil());
    picture
}

/// Material, sheet and law in one line.
fn sheet_words(subject: &Subject) -> String {
    let material = &subject.part.material;
    let triangles = match subject.flat.forming.as_ref().map_or(0, crate::flat::Forming::elements) {
        0 => "solved as rings, no triangles".to_owned(),
        count => format!("{count} triangles"),
    };
    format!(
        "{}, {}; strength K {} MPa, hardening n {}, anisotropy r {}; {triangles}",
        material.name,
        subject.part.unit.show(subject.part.thickness),
        Digits(material.strength_coefficient.value.mpa(), 0),
        Digits(material.hardening_exponent.value, 3),
        Digits(material.normal_anisotropy.value, 2)
    )
}

/// Whether metal is left beyond the finished edges.
fn has_trim(part: &Part) -> bool {
    part.kind.half_shell().is_some_and(|shell| shell.trim.mm() > 0.0 || shell.end_trim.mm() > 0.0)
}

fn notes(subject: &Subject, limits: &Limits) -> Vec<String> {
    let mut notes = subject.notes.clone();
    let trim = if has_trim(subject.part) {
        " The walls are shown as they are hammered, with their trim; dashed on the blank: the finished edge."
    } else {
        ""
    };
    let face = match subject.part.kind.half_shell() {
        Some(shell) if shell.crown.mm() > 0.0 => {
            "The crowned face is formed first, then held while the walls go down; grey is what is not mapped"
        }
        Some(shell) if !shell.is_level() => {
            "The face is bent to the buck and mapped with its walls; grey is what is not mapped"
        }
        None if subject.part.kind.is_bent() => {
            "Grey is the rest of the blank, which hammering its lips does not strain"
        }
        _ => "Grey is the flat face, which is not strained",
    };
    notes.push(format!("{face}.{trim} Dotted lines: where bends and walls begin."));
    if subject.surface.has_rings {
        notes.push("Walls around a full circle are solved exactly, as rings.".to_owned());
    }
    if subject.surface.unmapped > 0 {
        notes.push(format!(
            "{} walls found no solution and are not mapped.",
            subject.surface.unmapped
        ));
    }
    notes.push(limits.sentence());
    notes
}

/// The bar of colours with its numbers; `y` is its upper edge.
fn draw_legend(picture: &mut Picture, subject: &Subject, y: f64) {
    let shading = &subject.shading;
    let bands = shading.colours.len();
    let width = 190.0 / bands as f64;
    let (x, high) = (MARGIN, 6.0);
    for (band, colour) in shading.colours.iter().enumerate() {
        let rect = Rect::new(x + band as f64 * width, y, x + (band + 1) as f64 * width, y + high);
        picture.fill(Ink::Step(shading.scale, *colour), vec![closed(corners_of(rect).to_vec())]);
    }
    picture.lines(
        Pen::Edge,
        vec![closed(corners_of(Rect::new(x, y, x + bands as f64 * width, y + high)).to_vec())],
    );
    for (level, text) in subject.ticks.iter().enumerate() {
        let at = x + (level + 1) as f64 * width;
        picture.lines(Pen::Edge, vec![vec![Point::new(at, y), Point::new(at, y + high + 1.0)]]);
        picture.words((at, y + high + 2.0 + SMALL), SMALL, Anchor::Middle, text.as_str());
    }
    let reach = bands as f64 * width;
    for (share, text) in [0.08, 0.5, 0.92].into_iter().zip(&subject.legend) {
        picture.words((x + reach * share, y - 1.8), SMALL, Anchor::Middle, text.as_str());
    }
}

/// Where the free edges pass the limits.
struct Limits {
    stretch: StrainLimit,
    shrink: StrainLimit,
    /// For each of the two zones its pen, its name and its stretches.
    zones: [(Pen, &'static str, Vec<Stretch>); 2],
}

impl Limits {
    fn of(subject: &Subject) -> Self {
        let (part, edges) = (subject.part, &subject.surface.edges);
        let own = &part.material.edge_limits;
        let (stretch, shrink) =
            (part.shop.stretch.unwrap_or(own.stretch), part.shop.shrink.unwrap_or(own.shrink));
        let between = |over: [f64; 2], upto: [f64; 2]| {
            let mut all = stretches(edges, |e| e, over[0], upto[0]);
            all.extend(stretches(edges, |e| -e, over[1], upto[1]));
            all
        };
        let endless = [f64::INFINITY; 2];
        let (caution, stop) = ([stretch.caution, shrink.caution], [stretch.stop, shrink.stop]);
        let zones = [
            (Pen::Caution, "caution", between(caution, stop)),
            (Pen::Stop, "stop", between(stop, endless)),
        ];
        Self { stretch, shrink, zones }
    }

    /// Samples of the lines that mark the zones there are, right of the legend.
    fn draw_legend(&self, picture: &mut Picture, y: f64) {
        let mut y = y;
        for (pen, name, all) in &self.zones {
            let [stretch, shrink] = [self.stretch, self.shrink].map(|limit| match pen {
                Pen::Stop => limit.stop,
                _ => limit.caution,
            });
            if all.is_empty() {
                continue;
            }
            picture.lines(*pen, vec![vec![Point::new(220.0, y), Point::new(245.0, y)]]);
            let text = format!(
                "{name}: edge stretches over {} % or shrinks over {} %",
                percent(stretch),
                percent(shrink)
            );
            picture.words((248.0, y + SMALL / 2.0), SMALL, Anchor::Start, text);
            y += 7.0;
        }
    }

    /// Where the limits lie, and whether an edge passes them.
    fn sentence(&self) -> String {
        let passed = if self.zones.iter().all(|(_, _, all)| all.is_empty()) {
            "No edge passes its limits."
        } else {
            "Edges that pass their limits are marked by broken lines."
        };
        format!(
            "{passed} Limits of the free edge: stretch caution {} %, stop {} %; shrink caution {} %, stop {} %.",
            percent(self.stretch.caution),
            percent(self.stretch.stop),
            percent(self.shrink.caution),
            percent(self.shrink.stop)
        )
    }

    /// The zone whose edge is no farther than `reach` mm from a place.
    fn zone_at(&self, place: Point, reach: f64) -> Option<&'static str> {
        self.zones
            .iter()
            .find(|(_, _, all)| all.iter().any(|stretch| stretch.holds(place, reach)))
            .map(|(_, name, _)| *name)
    }

    /// Marks the zones; a stretch is named where nothing else is said of it.
    fn draw(
        &self,
        picture: &mut Picture,
        subject: &Subject,
        view: &dyn View,
        motion: Affine,
        labels: &mut Vec<Label>,
    ) {
        let reach = subject.part.thickness.mm();
        let place = |node: &Node| motion * view.place(node);
        for (pen, _, all) in &self.zones {
            picture.lines(
                *pen,
                all.iter().map(|stretch| stretch.nodes.iter().map(place).collect()).collect(),
            );
        }
        let [(_, caution, cautions), (_, stop, stops)] = &self.zones;
        let is_new = |stretch: &&Stretch| {
            !subject.worst.iter().any(|(node, _)| stretch.holds(node.flat, reach))
        };
        // Where an edge goes on from caution to stop, it is the stop that matters.
        let alone = cautions.iter().filter(|stretch| !stops.iter().any(|stop| stop.meets(stretch)));
        let named = stops.iter().filter(is_new).map(|stretch| (stretch, *stop));
        for (stretch, name) in named.chain(alone.filter(is_new).map(|stretch| (stretch, *caution)))
        {
            labels.push(Label {
                at: place(&stretch.nodes[stretch.nodes.len() / 2]),
                text: name.to_owned(),
            });
        }
    }
}

fn percent(strain: f64) -> String {
    Digits(strain * 100.0, 1).to_string()
}

/// The part of the page that a view takes.
struct Frame {
    x: f64,
    y: f64,
    width: f64,
    /// What the view shows, in its own mm.
    body: Rect,
    scale: f64,
}

impl Frame {
    fn new(x: f64, y: f64, width: f64, body: Rect) -> Self {
        let scale = (width / body.width().max(1e-9)).min(TALLEST / body.height().max(1e-9));
        Self { x, y, width, body, scale }
    }

    /// The view's rectangle on the page, between the strips for labels.
    fn rect(&self) -> Rect {
        let (width, height) = (self.body.width() * self.scale, self.body.height() * self.scale);
        let x = self.x + (self.width - width) / 2.0;
        let y = self.y + WORDS + 3.0 + STRIP;
        Rect::new(x, y, x + width, y + height)
    }

    /// From the view's own mm, y up, onto the page.
    fn motion(&self) -> Affine {
        let rect = self.rect();
        let k = self.scale;
        Affine::new([k, 0.0, 0.0, -k, rect.x0 - self.body.x0 * k, rect.y1 + self.body.y0 * k])
    }

    fn bottom(&self) -> f64 {
        self.rect().y1 + STRIP
    }

    /// How large things are drawn, in words.
    fn scale_words(&self) -> String {
        if self.scale >= 1.0 {
            format!("{} : 1", Digits(self.scale, 2))
        } else {
            format!("1 : {}", Digits(1.0 / self.scale, 2))
        }
    }

    fn heading(&self, picture: &mut Picture, words: &str) {
        let text = format!("{words}, {}", self.scale_words());
        picture.words((self.x, self.y + WORDS), WORDS, Anchor::Start, text);
    }
}

fn draw_blank(picture: &mut Picture, subject: &Subject, limits: &Limits, frame: &Frame) -> f64 {
    frame.heading(picture, &format!("The blank, seen from its {}", seen_face(subject.part)));
    let motion = frame.motion();
    let outline =
        |outline: &crate::geom::Polyarc| closed(on_page(&outline.flatten(SOLID_CHORD), motion));
    let cuts: Vec<Vec<Point>> =
        std::iter::once(&subject.flat.outside).chain(&subject.flat.openings).map(outline).collect();
    picture.fill(Ink::Metal, cuts.clone());
    let places: Vec<Point> =
        subject.surface.nodes.iter().map(|node| motion * Plan.place(node)).collect();
    draw_bands(picture, &subject.shading, &places, &subject.surface.triangles);
    let chains = |chains: &[Vec<Segment>]| {
        chains.iter().map(|chain| on_page(&flattened(chain), motion)).collect::<Vec<_>>()
    };
    picture.lines(Pen::BendZone, chains(&subject.flat.bend_zones));
    if has_trim(subject.part) {
        picture.lines(Pen::Net, vec![outline(&subject.flat.net)]);
    }
    picture.lines(Pen::Cut, cuts);
    finish(picture, subject, limits, &Plan, frame)
}

fn draw_shell(
    picture: &mut Picture,
    subject: &Subject,
    limits: &Limits,
    view: &Isometric,
    frame: &Frame,
) -> f64 {
    let words = if subject.part.kind.is_bent() {
        "Its lips formed, before it is bent, isometric"
    } else if has_trim(subject.part) {
        "Formed, lying on its face, before its trim is cut off, isometric"
    } else {
        "Formed, lying on its face, isometric"
    };
    frame.heading(picture, words);
    draw_formed(picture, &subject.shading, subject.surface, view, frame.motion());
    finish(picture, subject, limits, view, frame)
}

/// Marks and labels on top of a view; gives the frame's lower end.
fn finish(
    picture: &mut Picture,
    subject: &Subject,
    limits: &Limits,
    view: &dyn View,
    frame: &Frame,
) -> f64 {
    let motion = frame.motion();
    let worst = subject.worst.iter().map(|(node, text)| Label {
        at: motion * view.place(node),
        text: match limits.zone_at(node.flat, subject.part.thickness.mm()) {
            Some(zone) => format!("{text}: {zone}"),
            None => text.clone(),
        },
    });
    let mut labels: Vec<Label> = worst.collect();
    limits.draw(picture, subject, view, motion, &mut labels);
    let rect = frame.rect();
    let drawn: Vec<Point> =
        subject.surface.nodes.iter().map(|node| motion * view.place(node)).collect();
    let (upper, lower): (Vec<Label>, Vec<Label>) =
        labels.into_iter().partition(|label| goes_up(label.at, &drawn, rect));
    for (labels, base, tip) in
        [(upper, rect.y0 - STRIP + WORDS + 1.0, 1.5), (lower, rect.y1 + STRIP - 2.0, -WORDS - 1.0)]
    {
        for (label, x) in side_by_side(labels, frame.x, frame.x + frame.width) {
            picture.lines(Pen::Leader, vec![vec![Point::new(x, base + tip), label.at]]);
            picture.fill(Ink::Black, vec![dot(label.at)]);
            picture.words((x, base), WORDS, Anchor::Middle, label.text);
        }
    }
    frame.bottom()
}

/// Whether the way up from a place crosses less of what is drawn than the way down; the shorter one
/// where neither does.
fn goes_up(at: Point, drawn: &[Point], rect: Rect) -> bool {
    let beside = drawn.iter().filter(|p| (p.x - at.x).abs() < rect.width() / 60.0);
    let (above, below) = beside.fold((0.0_f64, 0.0_f64), |(above, below), p| {
        (above.max(at.y - p.y), below.max(p.y - at.y))
    });
    if (above - below).abs() < 3.0 { at.y < rect.center().y } else { above < below }
}

/// A small round spot.
fn dot(at: Point) -> Vec<Point> {
    let corner = |k: u32| {
        at + crate::geom::Vec2::from_angle(f64::from(k) * std::f64::consts::TAU / 12.0) * 0.7
    };
    closed((0..12).map(corner).collect())
}

/// Room for labels in one line between two places, each as near to what it speaks of as the others
/// let it; with each the middle of its place. The last ones go where there is no room for all.
fn side_by_side(mut labels: Vec<Label>, from: f64, to: f64) -> Vec<(Label, f64)> {
    let width = |label: &Label| width_of(&label.text, WORDS) + 2.0 * WORDS;
    while labels.iter().map(width).sum::<f64>() > to - from {
        labels.pop();
    }
    labels.sort_by(|a, b| a.at.x.total_cmp(&b.at.x));
    let mut middles: Vec<f64> = Vec::new();
    let mut free = from;
    for label in &labels {
        let middle = (label.at.x).max(free + width(label) / 2.0);
        free = middle + width(label) / 2.0;
        middles.push(middle);
    }
    let mut free = to;
    for (label, middle) in labels.iter().zip(&mut middles).rev() {
        *middle = middle.min(free - width(label) / 2.0);
        free = *middle - width(label) / 2.0;
    }
    labels.into_iter().zip(middles).collect()
}

/// Points along lines and arcs.
fn flattened(chain: &[Segment]) -> Vec<Point> {
    let mut points: Vec<Point> = chain.first().map(Segment::from).into_iter().collect();
    for segment in chain {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "clamped to 1..=400"
        )]
        let steps = if segment.is_straight() {
            1
        } else {
            segment.length().ceil().clamp(8.0, 400.0) as u32
        };
        points.extend((1..=steps).map(|k| segment.point_at(f64::from(k) / f64::from(steps))));
    }
    points
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_stand_side_by_side_in_the_order_of_their_places() {
        let label =
            |x: f64| Label { at: Point::new(x, 0.0), text: "largest shrink 5 %".to_owned() };
        let placed = side_by_side(vec![label(96.0), label(90.0), label(5.0)], 0.0, 200.0);
        let half = width_of("largest shrink 5 %", WORDS) / 2.0 + WORDS;
        assert_eq!(placed.len(), 3);
        assert!(placed.windows(2).all(|pair| pair[1].1 - pair[0].1 >= 2.0 * half - 1e-9));
        assert!(placed.windows(2).all(|pair| pair[0].0.at.x <= pair[1].0.at.x));
        assert!(placed[0].1 >= half - 1e-9 && placed[2].1 <= 200.0 - half + 1e-9);
        // Where there is no room for all, the first ones given stay.
        let few = side_by_side(vec![label(50.0), label(60.0), label(70.0)], 0.0, 120.0);
        assert_eq!(few.iter().map(|(label, _)| label.at.x).collect::<Vec<_>>(), [50.0, 60.0]);
    }
}
