//! The blank of a hammered half-shell.

use super::plate::{add_openings, add_walls, method_of, refused, wall_corners};
use super::{Flat, Forming};
use crate::geom::{Affine, Point, Polyarc};
use crate::part::{HalfShell, Join, Opening, Part};
use crate::problem::{Checked, Code, Problem};
use crate::shell::{
    BLUNT_CORNER, Dart, FaceProblem, FormedFace, NoBlank, Shell, ShellFace, Wall, relief_darts,
};
use crate::units::{Angle, Digits, Length};

/// The wall of a half-shell in its section, where it is deepest.
pub(crate) fn wall_of(part: &Part, shell: &HalfShell) -> Result<Wall, Problem> {
    let depth = shell.depths().1;
    let bend_angle = Angle::from_degrees(90.0) - shell.draft;
    Wall::new(part.thickness, shell.inside_radius, bend_angle, depth, &part.bend_rule, part.unit)
        .map_err(|problem| {
            Problem::new(Code::NoRoom, problem.message, problem.help)
                .at(shell.profile_place.clone())
        })
}

/// The outside of a half-shell's face; none where it is level.
fn face_of(part: &Part, shell: &HalfShell, wall: &Wall) -> Result<Option<ShellFace>, Problem> {
    ShellFace::of(shell, wall.inside_radius + wall.thickness, wall.thickness).map_err(|problem| {
        let mm = |x: f64| part.unit.show(Length::from_mm(x));
        let (message, help) = match problem {
            FaceProblem::TooSharp { at, radius } => (
                format!(
                    "{} along the part the face bulges with a radius of {}, too sharp for its edge radius",
                    mm(at),
                    mm(radius)
                ),
                "let the depth change over a longer stretch, or make the edge radius smaller",
            ),
            FaceProblem::TooSteep { at, angle } => (
                format!(
                    "{} along the part the face slopes by {} degrees, more a wall than a face",
                    mm(at),
                    Digits(angle.to_degrees(), 1)
                ),
                "let the depth change over a longer stretch: up to 60 degrees",
            ),
        };
        Problem::new(Code::NoRoom, message, help).at(shell.profile_place.clone())
    })
}

/// Whether side `i` of the profile has a wall.
pub(crate) fn has_wall(shell: &HalfShell, i: usize) -> bool {
    shell.profile.sides.sides[i].edge.is_none_or(|edge| !shell.open_edges.contains(&edge))
}

/// What is asked of a half-shell's walls, as they are hammered.
fn with_shell<T>(
    part: &Part,
    finished: &HalfShell,
    ask: impl Fn(Shell) -> Result<T, NoBlank>,
) -> Result<T, Problem> {
    let shell = &*finished.as_hammered();
    let wall = wall_of(part, shell)?;
    let has_wall = |i: usize| has_wall(shell, i);
    let law = part.material.sheet_law();
    let surface = face_of(part, shell, &wall)?;
    let walls = Shell {
        profile: &shell.profile.sides,
        has_wall: &has_wall,
        surface: surface.as_ref(),
        wall: &wall,
        law: &law,
        trim: shell.trim.mm(),
        crown: shell.crown.mm(),
        join: shell.join,
        finished: &|side| finished.finished_edge(side),
    };
    ask(walls).map_err(|why| {
        let problem = refused(&why, &wall, part.unit, "profile", &shell.profile_place);
        // A shell that can stand has its buck all the same.
        let stands = !matches!(
            why,
            NoBlank::TightCorner { .. } | NoBlank::TooNarrow { .. } | NoBlank::Face { .. }
        );
        Problem { code: if stands { Code::NoBlank } else { problem.code }, ..problem }
    })
}

/// The face of a half-shell whose walls have no blank, where it is not level, and the openings in
/// it as they are cut.
pub(crate) fn face_alone(
    part: &Part,
    shell: &HalfShell,
) -> Checked<(Option<FormedFace>, Vec<Polyarc>)> {
    let face = with_shell(part, shell, |walls| walls.face_alone())
        .and_then(|face| with_finished(part, shell, face));
    let face = face.map_err(|problem| vec![problem])?;
    let openings =
        face.as_ref().map_or_else(|| shell.openings.clone(), |face| laid_on(face, &shell.openings));
    let mut flat = Flat::plain(Polyarc::default(), Vec::new());
    add_openings(part, &openings, &mut flat)?;
    Ok((face, flat.openings))
}

/// The corners of a profile at which its walls end square, with a gap between them; all sharp
/// outside ones where there is no blank to know by.
pub(crate) fn open_corners(shell: &HalfShell, forming: Option<&Forming>) -> Vec<Point> {
    if shell.join != Join::Open {
        return Vec::new();
    }
    if let Some(forming) = forming {
        return forming
            .corners
            .iter()
            .filter(|corner| corner.edge.is_some())
            .map(|corner| corner.at)
            .collect();
    }
    let sides = &shell.profile.sides;
    let count = sides.sides.len();
    let is_open = |i: &usize| {
        has_wall(shell, *i)
            && has_wall(shell, (i + 1) % count)
            && sides.turn_before((i + 1) % count) > BLUNT_CORNER
    };
    (0..count).filter(is_open).map(|i| sides.sides[i].segment.to()).collect()
}

/// The face with that of the finished shell, where metal is left beyond its open edges.
fn with_finished(
    part: &Part,
    shell: &HalfShell,
    face: Option<FormedFace>,
) -> Result<Option<FormedFace>, Problem> {
    let (Some(mut face), Some(_)) = (face.clone(), &shell.hammered) else { return Ok(face) };
    face.finished =
        with_shell(part, &shell.as_finished(), |walls| walls.face_alone())?.map(Box::new);
    Ok(Some(face))
}

pub(super) fn flatten(part: &Part, shell: &HalfShell) -> Checked<Flat> {
    let walled =
        with_shell(part, shell, |walls| walls.lay_flat()).map_err(|problem| vec![problem])?;
    let wall = wall_of(part, shell).map_err(|problem| vec![problem])?;
    let mut flat = Flat::plain(walled.cut.clone(), Vec::new());
    flat.net = walled.net.clone();
    add_walls(&walled, false, &mut flat);
    flat.wall_corners = wall_corners(&walled, shell.join, &shell.profile_place);
    if shell.trim > Length::ZERO {
        flat.scribes.extend(walled.net_lines.iter().cloned());
    }
    flat.scribes.extend(walled.finished_ends.iter().cloned());
    let stretch = part.shop.stretch.unwrap_or(part.material.edge_limits.stretch);
    let shrink = part.shop.shrink.unwrap_or(part.material.edge_limits.shrink);
    let darts = relief_darts(&walled.strains, &walled.cut, stretch, shrink, &wall);
    flat.scribes.extend(darts.iter().flat_map(Dart::lines));
    let openings = walled
        .face
        .as_ref()
        .map_or_else(|| shell.openings.clone(), |face| laid_on(face, &shell.openings));
    let method = method_of(&walled);
    flat.forming = Some(Forming {
        wall,
        method,
        edge: walled.strains,
        solved: walled.solved,
        darts,
        corners: walled.sharp_corners,
        face: with_finished(part, shell, walled.face).map_err(|problem| vec![problem])?,
    });
    add_openings(part, &openings, &mut flat)?;
    Ok(flat)
}

/// Openings of a face that is not level: each keeps its own shape in the metal; its middle is where
/// the description has it, seen square to the seam plane.
fn laid_on(face: &FormedFace, openings: &[Opening]) -> Vec<Opening> {
    let moved = |opening: &Opening| {
        let middle = opening.outline.bounds().center();
        let by = Affine::translate(face.flat_of(middle) - middle);
        Opening { outline: opening.outline.moved(by), ..opening.clone() }
    };
    openings.iter().map(moved).collect()
}
