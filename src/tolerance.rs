//! Every tolerance, limit and iteration cap, with its unit and its reason.

/// Relative-to-nothing accuracy of a curve's length, mm; far below what any output shows.
pub const CURVE_LENGTH_ACCURACY: f64 = 1e-10;

/// A bulge below this is a straight line: on a chord of 1 m its sagitta is half a nanometre.
pub const STRAIGHT_BULGE: f64 = 1e-12;

/// Height of an arc over its chord, mm, below which a fitted piece is a line: controllers and
/// readers stumble over radii of kilometres.
pub const STRAIGHT_RISE: f64 = 1e-6;

/// At how many places a fitted arc pair is compared with its curve; between them a smooth curve
/// cannot leave by more than a few per cent of the tolerance.
pub const FIT_CHECKS: u32 = 16;

/// How far a cut line may be from the curve it stands for, mm. The file format allows 0.01; half is
/// kept for what comes after.
pub const CURVE_TO_ARCS: f64 = 0.004;

/// Points closer than this are one point, mm: a tenth of a micrometre, far below any shop's means.
pub const SAME_POINT: f64 = 1e-4;

/// Pieces of an outline that come nearer to one another than this touch, mm: far above rounding on
/// 100 m, far below [`SAME_POINT`].
pub const TOUCHING_PIECES: f64 = 1e-6;

/// So near their shared end two pieces of an outline that run on into each other may be told to
/// cross by rounding, mm.
pub const SAME_JOINT: f64 = 1e-5;

/// The largest description file, bytes: ten thousand times the demo.
pub const LARGEST_DESCRIPTION: usize = 8_000_000;

/// How deep lists and maps may nest in a description; the file format's own need is under 20.
pub const YAML_DEPTH: usize = 64;

/// The most values a description may hold, its aliases written out: as many openings as anybody
/// perforates, eight values each.
pub const MOST_VALUES: usize = 200_000;

/// The most letters that the keys down to a value may have together; a flange on a flange on a
/// flange takes some thirty each.
pub const LONGEST_PATH: usize = 1_000;

/// The most characters that the name of a part or a job may have: with its endings it must stay a
/// file name everywhere.
pub const LONGEST_NAME: usize = 100;

/// The most letters of a name or a quantity: messages show it whole.
pub const LONGEST_WORD: usize = 1_000;

/// How many errors of one file are reported at once; more would scroll the first away.
pub const MOST_ERRORS: usize = 20;

/// The least length a description may give, mm.
pub const LEAST_LENGTH_MM: f64 = 0.001;

/// The largest length a description may give, mm.
pub const LARGEST_LENGTH_MM: f64 = 100_000.0;

/// The thicknesses that count as sheet, mm.
pub const THICKNESS_RANGE_MM: (f64, f64) = (0.1, 25.0);

/// An outline with less area than this encloses nothing, mm²: smaller than any torch's pierce.
pub const LEAST_AREA_MM2: f64 = 1e-4;

/// How far a curve shifted sideways (the edge of a centreline outline, the outside of a buck) may
/// be from the true one, mm: a tenth of what its arcs are then fitted to.
pub const SHIFTED_CURVE: f64 = 4e-4;

/// How far a cubic may be from the elliptical arc it stands for, mm: a hundredth of [`SAME_POINT`],
/// as arcs are fitted to it afterwards.
pub const ELLIPSE_TO_CUBICS: f64 = 1e-6;

/// No coordinate of an imported outline lies farther out than this, mm (1 km): ten times the
/// largest part, so that one drawn off its origin still fits; beyond it a double no longer tells
/// [`SAME_POINT`] apart safely.
pub const FARTHEST_COORDINATE: f64 = 1e6;

/// The largest radius of an imported arc, mm (1000 km): beyond it the arc is a straight line on any
/// part.
pub const LARGEST_IMPORTED_RADIUS: f64 = 1e9;

/// The smallest area that an imported outline encloses, mm².
pub const SMALLEST_IMPORTED_AREA: f64 = 1e-6;

/// The most drawing commands or entities that an imported file may hold; a traced picture holds a
/// few thousand.
pub const MOST_IMPORTED_PIECES: usize = 200_000;

/// The most closed outlines that an imported file may hold: as many openings as anybody perforates.
pub const MOST_IMPORTED_LOOPS: usize = 25_000;

/// The most attributes of one element of an imported picture: the parser compares each with all
/// before it.
pub const MOST_ATTRIBUTES: usize = 1_000;

/// The most style rules of an imported picture that may change an outline: each is held against
/// each element.
pub const MOST_STYLE_RULES: usize = 500;

/// The most stations of a form block: each is drawn with a template of its own; at the usual 50 mm
/// they reach 25 m.
pub const MOST_STATIONS: f64 = 500.0;

/// The most copies of all parts of a job together, and of one sheet in its stock.
pub const MOST_COPIES: usize = 10_000;

/// The most turns that a part of a job may list: as many as the finest step has.
pub const MOST_TURNS: usize = 3_600;

/// Two sides that turn by less than this at their joint run on into each other, radians; a spline's
/// own joints stay far below.
pub const SMOOTH_JOINT: f64 = 2e-3;

/// A corner between walls that turns by less than this is hammered round without a word: spread
/// over one wall's width w its edge strain is at most angle·w/w, the 5 % that the common-practice
/// caution allows the hardest steel. Radians, about 3 degrees.
pub const SLIGHT_CORNER: f64 = 0.05;

/// Cut lines have no piece shorter than this, mm; a torch is thirty times as wide.
pub const SHORTEST_PIECE: f64 = 0.05;

/// How far the clamp plate stays inside the tangent line, mm: common practice is 1 to 3.
pub const CLAMP_CLEARANCE_MM: f64 = 2.0;

/// How far the chords of a solid may be from the curve they stand for, mm.
pub const SOLID_CHORD: f64 = 0.05;

/// Into how many flats a solid's bend is cut.
pub const SOLID_STEPS_OF_BEND: u32 = 12;

/// Least cosine of the angle between the run and a wall that a station cuts: the cut meets it at 30
/// degrees. Flatter, and thickness and length in the cut are no wall's any more.
pub const LEAST_WALL_COSINE: f64 = 0.5;

/// Into how many pieces an arc or a curve is cut in the search for crossings; a cubic crosses a
/// line three times at most.
pub const CROSSING_PIECES: u32 = 16;

/// Accuracy of a crossing as a share of the piece that is crossed: rounding.
pub const CROSSING_SHARE: f64 = 1e-13;

/// How far the chords of an opening may be from its arcs for its weight, mm.
pub const OPENING_CHORD: f64 = 1e-3;

/// Into how many stretches the run is cut before any is halved, at most; adding up a volume then
/// halves them where they are uneven.
pub const MOST_STRETCHES: usize = 64;

/// How often one stretch is halved at most: a step in the section is then narrowed down to less
/// than a ten-millionth of it.
pub const DEEPEST_HALVING: u32 = 24;

/// How many halvings a volume may take in all, so that no outline keeps it busy for long.
pub const MOST_HALVINGS: u32 = 10_000;

/// How far a stretch of a volume may be from the true one, over the box around the part.
pub const VOLUME_SHARE: f64 = 1e-7;

/// How far the area of triangles may be from that of their outline, over the latter: rounding of
/// some thousand sums.
pub const TRIANGULATED_AREA: f64 = 1e-10;

/// The directions in radians in which outlines are cut into triangles, until one succeeds: single
/// precision may merge corners that lie level in one direction and not in another.
pub const TRIANGULATION_TURNS: [f64; 5] = [0.0, 0.73, 1.9, 2.71, 0.31];

/// Decimals of a number in results: below a nanometre.
pub const RESULT_DECIMALS: i32 = 9;

/// How far outside its arcs the polygon may be that a blank is nested by, mm.
pub const NEST_CHORD: f64 = 0.02;

/// Ends of lines in an imported file that are no farther apart are joined, mm: the accuracy of the
/// cut lines themselves.
pub const JOINED_ENDS: f64 = 0.01;

/// The largest file that an outline is read from, bytes; a traced outline of 100,000 points is a
/// tenth of it.
pub const LARGEST_IMPORT: usize = 64 << 20;

/// How deep blocks of an imported drawing may stand in one another, and groups of an imported
/// picture.
pub const DEEPEST_NESTING: usize = 32;

/// The highest degree of an imported spline; drawing programs write 3, some 5.
pub const HIGHEST_SPLINE_DEGREE: usize = 15;

/// How far the chords of a folded part's solid may be from its bends and arcs, mm: a fifth of the
/// gap that a corner is held to.
pub const FOLDED_CHORD: f64 = 0.01;

/// Corners of a sheet's triangles that are no farther apart are one, mm: far above rounding, far
/// below any cut.
pub const SAME_VERTEX: f64 = 1e-7;

/// Metal that overlaps by less than this touches and does not collide, mm: twice what chords may be
/// off.
pub const TOUCHING: f64 = 0.02;

/// How many states of a part the search for a bend order keeps: twelve bends have 4,096 sets, each
/// with some 24 ways to go on.
pub const MOST_BEND_STATES: usize = 400_000;

/// How many strokes that search tries, so that it ends within seconds.
pub const MOST_BEND_TRIALS: usize = 400_000;

/// The most strips for bending that a job may ask for.
pub const MOST_BEND_STRIPS: usize = 40;

/// The most that a grain may be off its direction, degrees: beyond it `any` says more truly what is
/// meant.
pub const MOST_GRAIN_TOLERANCE_DEG: f64 = 15.0;

/// A stretch of the finished edge, as a fraction, above which the place where its cut begins is to
/// be dressed: half of what the common-practice caution allows the hardest steel.
pub const STRETCH_TO_MIND: f64 = 0.025;

/// Trial places spent on each test piece.
pub const TEST_PIECE_POSES: u64 = 20_000;

/// How far the torch's line may be from half a kerf off the edge, mm: what the file format allows a
/// cut line.
pub const TORCH_OFF_EDGE: f64 = 0.01;

/// How far the chords of edges may be from their arcs where lead-ins are kept off them, mm.
pub const TORCH_CHORD: f64 = 0.002;

/// How far the chords of parts may be outside their arcs where the rest of a sheet is worked out,
/// mm.
pub const REMNANT_CHORD: f64 = 0.1;

/// How far rounded corners of a remnant may be off the true round, mm, on the side of less.
pub const REMNANT_ROUND: f64 = 0.1;

/// Between which a printer's scale may be corrected: one that is further off was told to fit the
/// page.
pub const PRINT_SCALES: (f64, f64) = (0.9, 1.1);
