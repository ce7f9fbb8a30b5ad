//! A bracket as a shop would cut it, for the tests of what is written.

use planish::geom::{Point, Polyarc, Rect, Segment, Vertex};
use planish::page::{Drawing, Layer};

/// A slot along x, round at both ends.
pub(crate) fn slot(centre: Point, length: f64, width: f64) -> Polyarc {
    let (half, radius) = ((length - width) / 2.0, width / 2.0);
    let at = |x: f64, y: f64, bulge: f64| Vertex {
        point: Point::new(centre.x + x, centre.y + y),
        bulge,
    };
    Polyarc {
        vertices: vec![
            at(-half, -radius, 0.0),
            at(half, -radius, 1.0),
            at(half, radius, 0.0),
            at(-half, radius, 1.0),
        ],
    }
}

/// A rectangle with rounded corners.
pub(crate) fn rounded(rect: Rect, radius: f64) -> Polyarc {
    let quarter = (std::f64::consts::PI / 8.0).tan();
    let at = |x: f64, y: f64, bulge: f64| Vertex { point: Point::new(x, y), bulge };
    Polyarc {
        vertices: vec![
            at(rect.x0 + radius, rect.y0, 0.0),
            at(rect.x1 - radius, rect.y0, quarter),
            at(rect.x1, rect.y0 + radius, 0.0),
            at(rect.x1, rect.y1 - radius, quarter),
            at(rect.x1 - radius, rect.y1, 0.0),
            at(rect.x0 + radius, rect.y1, quarter),
            at(rect.x0, rect.y1 - radius, 0.0),
            at(rect.x0, rect.y0 + radius, quarter),
        ],
    }
}

/// 180 x 110 mm with two bends, their zones, two slots, two holes, a scribed chain, a lead-in and
/// notes.
pub(crate) fn bracket() -> Drawing {
    let mut drawing = Drawing::new("Bracket, left: blank seen from its outer side");
    drawing.captions = vec![
        "4130 normalized, 1.8 mm; every length in this drawing is true on paper when the scale bars measure as they say."
            .to_owned(),
        "Bend 1: 90° toward you, inside radius 3 mm. Bend 2: 45° away from you, inside radius 5 mm.".to_owned(),
    ];
    drawing.closed(Layer::Outside, rounded(Rect::new(0.0, 0.0, 180.0, 110.0), 8.0));
    drawing.closed(Layer::Opening, slot(Point::new(90.0, 30.0), 40.0, 9.0));
    drawing.closed(Layer::Opening, slot(Point::new(90.0, 80.0), 40.0, 9.0));
    drawing.closed(Layer::Opening, Polyarc::circle(Point::new(20.0, 55.0), 6.0));
    drawing.closed(Layer::Opening, Polyarc::circle(Point::new(160.0, 55.0), 6.0));
    for (layer, x, half, words) in
        [(Layer::FoldUp, 50.0, 3.2, "up 90° R3"), (Layer::FoldDown, 130.0, 2.6, "down 45° R5")]
    {
        drawing.line(layer, Point::new(x, 0.0), Point::new(x, 110.0));
        drawing.line(Layer::BendZone, Point::new(x - half, 0.0), Point::new(x - half, 110.0));
        drawing.line(Layer::BendZone, Point::new(x + half, 0.0), Point::new(x + half, 110.0));
        let at = Point::new(x - half - 2.0, 12.0);
        let shape = planish::page::Shape::Text {
            at,
            height: 3.5,
            angle: std::f64::consts::FRAC_PI_2,
            centred: false,
            text: words.to_owned(),
        };
        drawing.marks.push(planish::page::Mark { layer: Layer::Note, shape });
    }
    let arc =
        Segment::Arc { from: Point::new(70.0, 55.0), to: Point::new(110.0, 55.0), bulge: -0.3 };
    let chain = vec![
        Segment::Line { from: Point::new(60.0, 55.0), to: Point::new(70.0, 55.0) },
        arc,
        Segment::Line { from: Point::new(110.0, 55.0), to: Point::new(120.0, 55.0) },
    ];
    drawing.marks.push(planish::page::Mark {
        layer: Layer::Scribe,
        shape: planish::page::Shape::Open(chain),
    });
    drawing.line(Layer::Lead, Point::new(-6.0, 50.0), Point::new(0.0, 55.0));
    drawing.label(Point::new(90.0, 98.0), 4.0, "grain: along ↔ Ø9 × 40");
    drawing
}
