//! Letters of single strokes, for files that are to carry no fonts.
//!
//! An alphabet of our own: capitals 20 units high, small letters 14, what goes below the base line
//! 6; bowls are half circles joined by straight lines, as a router bit or a pen draws them. A pen
//! of a tenth of the capitals suits it.
//!
//! ```
//! use planish::page::lettering;
//!
//! let strokes = lettering::strokes("A1", 5.0);
//! assert!(strokes.iter().flatten().all(|p| (0.0..=5.0).contains(&p.y)));
//! ```

use std::collections::BTreeMap;
use std::sync::LazyLock;

use crate::geom::Point;

/// Units in the height of a capital.
const CAPITAL: f64 = 20.0;
/// Units left free on each side of a letter.
const SIDE: f64 = 3.0;
/// Chords of an arc span at most this, degrees: 0.02 of a capital off its circle at most.
const CHORD: f64 = 15.0;

/// Letters with their widths and strokes. A stroke is a chain of points `x,y` and of arcs
/// `c x,y,rx,ry,from,to` about `x,y` between two angles in degrees, written without spaces;
/// `|` begins the next stroke.
#[rustfmt::skip]
const LETTERS: [(char, f64, &str); 123] = [
    (' ', 3.0, ""),
    ('!', 0.0, "0,20 0,6 | 0,0 0,1"),
    ('"', 4.0, "0,20 0,15 | 4,20 4,15"),
    ('#', 13.0, "2.5,1 4.5,19 | 8.5,1 10.5,19 | 0,6.5 12,6.5 | 1,13.5 13,13.5"),
    ('$', 11.0, "c5.5,15.2,5,4.8,30,270 c5.5,5.2,5.5,5.2,90,-150 | 5.5,23 5.5,-3"),
    ('%', 15.0, "1,0 14,20 | c3.5,16,3.5,4,90,450 | c11.5,4,3.5,4,90,450"),
    ('&', 13.0, "13,0 c5.5,16,3.6,4,215,-40 c5.2,5.2,5.2,5.2,135,325 13,9"),
    ('\'', 0.0, "0,20 0,15"),
    ('(', 4.3, "c10,9,10,17,125,235"),
    (')', 4.3, "c-5.7,9,10,17,55,-55"),
    ('*', 8.6, "4.3,19 4.3,9 | 0,16.5 8.6,11.5 | 0,11.5 8.6,16.5"),
    ('+', 12.0, "0,9 12,9 | 6,15 6,3"),
    (',', 1.5, "1.5,1 1.5,-0.5 0,-4"),
    ('-', 7.0, "0,8 7,8"),
    ('.', 0.0, "0,0 0,1"),
    ('/', 9.0, "0,-3 9,23"),
    ('0', 10.5, "c5.25,14.75,5.25,5.25,0,180 c5.25,5.25,5.25,5.25,180,360 10.5,14.75"),
    ('1', 5.0, "0,15.5 5,20 5,0"),
    ('2', 10.5, "c5.25,14.75,5.25,5.25,160,-35 0,0 10.5,0"),
    ('3', 10.4, "c5,15.4,4.6,4.6,150,-90 3.5,10.8 | 5,10.8 c5,5.4,5.4,5.4,90,-150"),
    ('4', 11.0, "8,0 8,20 0,6 11,6"),
    ('5', 10.3, "9.5,20 1.3,20 0.7,10.3 c4.9,6.25,5.4,6.25,135,-150"),
    ('6', 10.5, "c8.5,6,8.5,14,90,180 c5.25,6,5.25,6,180,540"),
    ('7', 10.5, "0,20 10.5,20 3.5,0"),
    ('8', 10.5, "c5.25,15.3,4.5,4.7,270,630 | c5.25,5.3,5.25,5.3,90,450"),
    ('9', 10.5, "c2,14,8.5,14,270,360 c5.25,14,5.25,6,0,360"),
    (':', 0.0, "0,0 0,1 | 0,12 0,13"),
    (';', 1.5, "1.5,1 1.5,-0.5 0,-4 | 1.5,12 1.5,13"),
    ('<', 11.0, "11,16 0,9 11,2"),
    ('=', 12.0, "0,12 12,12 | 0,6 12,6"),
    ('>', 11.0, "0,16 11,9 0,2"),
    ('?', 9.5, "c4.75,15.25,4.75,4.75,165,-45 4.75,8.5 4.75,6 | 4.75,0 4.75,1"),
    ('@', 18.0, "c9,8.5,4,4.5,0,360 | 13,13 13,7 c15.5,7,2.5,3,180,360 18,9 c9,9,9,10.5,0,300"),
    ('A', 14.0, "0,0 7,20 14,0 | 2.45,7 11.55,7"),
    ('B', 12.0, "0,0 0,20 7,20 c7,15.5,4.5,4.5,90,-90 0,11 | 6.5,11 c6.5,5.5,5.5,5.5,90,-90 0,0"),
    ('C', 12.0, "c6.5,13.5,6.5,6.5,30,180 c6.5,6.5,6.5,6.5,180,330"),
    ('D', 12.5, "0,0 0,20 5,20 c5,12.5,7.5,7.5,90,0 c5,7.5,7.5,7.5,0,-90 0,0"),
    ('E', 10.0, "10,20 0,20 0,0 10,0 | 0,10.5 8,10.5"),
    ('F', 10.0, "10,20 0,20 0,0 | 0,10.5 8,10.5"),
    ('G', 13.0, "c6.5,13.5,6.5,6.5,30,180 c6.5,6.5,6.5,6.5,180,360 13,9.5 7.5,9.5"),
    ('H', 12.5, "0,0 0,20 | 12.5,0 12.5,20 | 0,10.5 12.5,10.5"),
    ('I', 0.0, "0,0 0,20"),
    ('J', 8.0, "8,20 8,4 c4,4,4,4,0,-170"),
    ('K', 12.0, "0,0 0,20 | 12,20 0,8 | 4,12 12,0"),
    ('L', 9.0, "0,20 0,0 9,0"),
    ('M', 16.0, "0,0 0,20 8,6 16,20 16,0"),
    ('N', 13.0, "0,0 0,20 13,0 13,20"),
    ('O', 13.0, "c6.5,13.5,6.5,6.5,0,180 c6.5,6.5,6.5,6.5,180,360 13,13.5"),
    ('P', 11.5, "0,0 0,20 6,20 c6,14.5,5.5,5.5,90,-90 0,9"),
    ('Q', 13.5, "c6.5,13.5,6.5,6.5,0,180 c6.5,6.5,6.5,6.5,180,360 13,13.5 | 8,5.5 13.5,-1"),
    ('R', 12.0, "0,0 0,20 6,20 c6,14.5,5.5,5.5,90,-90 0,9 | 6,9 12,0"),
    ('S', 11.0, "c5.5,15.2,5,4.8,30,270 c5.5,5.2,5.5,5.2,90,-150"),
    ('T', 12.0, "0,20 12,20 | 6,20 6,0"),
    ('U', 12.5, "0,20 0,6.25 c6.25,6.25,6.25,6.25,180,360 12.5,20"),
    ('V', 13.0, "0,20 6.5,0 13,20"),
    ('W', 18.0, "0,20 4.5,0 9,15 13.5,0 18,20"),
    ('X', 12.0, "0,0 12,20 | 0,20 12,0"),
    ('Y', 13.0, "0,20 6.5,9.5 13,20 | 6.5,9.5 6.5,0"),
    ('Z', 11.0, "0,20 11,20 0,0 11,0"),
    ('[', 4.0, "4,23 0,23 0,-5 4,-5"),
    ('\\', 9.0, "0,23 9,-3"),
    (']', 4.0, "0,23 4,23 4,-5 0,-5"),
    ('^', 10.0, "0,13 5,20 10,13"),
    ('_', 12.0, "0,-4 12,-4"),
    ('`', 3.5, "0,20 3.5,15.5"),
    ('a', 10.0, "10,14 10,0 | 10,9 c5,9,5,5,0,180 c5,5,5,5,180,360"),
    ('b', 10.0, "0,20 0,0 | 0,5 c5,5,5,5,180,360 c5,9,5,5,0,180"),
    ('c', 9.1, "c5,9,5,5,35,180 c5,5,5,5,180,325"),
    ('d', 10.0, "10,20 10,0 | 10,9 c5,9,5,5,0,180 c5,5,5,5,180,360"),
    ('e', 10.0, "0,7.5 10,7.5 10,9 c5,9,5,5,0,180 c5,5,5,5,180,320"),
    ('f', 7.5, "2.5,0 2.5,16 c6.5,16,4,4,180,75 | 0,13.5 6.5,13.5"),
    ('g', 10.0, "10,14 10,-1.5 c5.25,-1.5,4.75,4.5,0,-155 | 10,9 c5,9,5,5,0,180 c5,5,5,5,180,360"),
    ('h', 10.0, "0,0 0,20 | 0,9 c5,9,5,5,180,0 10,0"),
    ('i', 0.0, "0,0 0,14 | 0,18.5 0,19.5"),
    ('j', 4.0, "4,14 4,-2.5 c0.75,-2.5,3.25,3.5,0,-100 | 4,18.5 4,19.5"),
    ('k', 9.5, "0,0 0,20 | 9,14 0,5 | 3,8 9.5,0"),
    ('l', 3.0, "0,20 0,3 c3,3,3,3,180,270"),
    ('m', 16.0, "0,0 0,14 | 0,10 c4,10,4,4,180,0 8,0 | 8,10 c12,10,4,4,180,0 16,0"),
    ('n', 10.0, "0,0 0,14 | 0,9 c5,9,5,5,180,0 10,0"),
    ('o', 10.0, "10,9 c5,9,5,5,0,180 c5,5,5,5,180,360 10,9"),
    ('p', 10.0, "0,14 0,-6 | 0,5 c5,5,5,5,180,360 c5,9,5,5,0,180"),
    ('q', 10.0, "10,14 10,-6 | 10,9 c5,9,5,5,0,180 c5,5,5,5,180,360"),
    ('r', 7.0, "0,0 0,14 | 0,9 c5,9,5,5,180,65"),
    ('s', 8.5, "c4.25,10.6,3.9,3.4,30,270 c4.25,3.6,4.25,3.6,90,-150"),
    ('t', 7.5, "2.5,19 2.5,4 c6.5,4,4,4,180,285 | 0,13.5 6.5,13.5"),
    ('u', 10.0, "0,14 0,5 c5,5,5,5,180,360 | 10,14 10,0"),
    ('v', 10.0, "0,14 5,0 10,14"),
    ('w', 15.0, "0,14 3.75,0 7.5,11 11.25,0 15,14"),
    ('x', 9.5, "0,0 9.5,14 | 0,14 9.5,0"),
    ('y', 10.4, "0,14 5.2,0 | 10.4,14 2.97,-6"),
    ('z', 9.0, "0,14 9,14 0,0 9,0"),
    ('{', 6.0, "c6,20,3,3,90,180 3,12 0,9 3,6 c6,-2,3,3,180,270"),
    ('|', 0.0, "0,24 0,-5"),
    ('}', 6.0, "c0,20,3,3,90,0 3,12 6,9 3,6 c0,-2,3,3,0,-90"),
    ('~', 12.0, "c3,8,3,3,180,0 c9,8,3,3,180,360"),
    ('°', 6.0, "c3,17,3,3,90,450"),
    ('×', 10.0, "0,4 10,14 | 0,14 10,4"),
    ('±', 12.0, "0,11 12,11 | 6,17 6,5 | 0,1 12,1"),
    ('–', 11.0, "0,8 11,8"),
    ('—', 18.0, "0,8 18,8"),
    ('−', 12.0, "0,9 12,9"),
    ('·', 0.0, "0,8.5 0,9.5"),
    ('•', 2.0, "c1,9,1,1,90,450"),
    ('…', 12.0, "0,0 0,1 | 6,0 6,1 | 12,0 12,1"),
    ('‘', 2.0, "0,20 2,15"),
    ('’', 2.0, "2,20 0,15"),
    ('“', 6.0, "0,20 2,15 | 4,20 6,15"),
    ('”', 6.0, "2,20 0,15 | 6,20 4,15"),
    ('«', 10.0, "5,13 0,8 5,3 | 10,13 5,8 10,3"),
    ('»', 10.0, "0,13 5,8 0,3 | 5,13 10,8 5,3"),
    ('≤', 11.0, "11,17 0,11 11,5 | 0,1 11,1"),
    ('≥', 11.0, "0,17 11,11 0,5 | 0,1 11,1"),
    ('≈', 12.0, "c3,11,3,2.5,180,0 c9,11,3,2.5,180,360 | c3,5,3,2.5,180,0 c9,5,3,2.5,180,360"),
    ('→', 15.0, "0,9 15,9 | 10,13 15,9 10,5"),
    ('←', 15.0, "15,9 0,9 | 5,13 0,9 5,5"),
    ('ø', 10.0, "10,9 c5,9,5,5,0,180 c5,5,5,5,180,360 10,9 | 0,-2 10,16"),
    ('Ø', 13.0, "c6.5,13.5,6.5,6.5,0,180 c6.5,6.5,6.5,6.5,180,360 13,13.5 | 0,-2 13,22"),
    ('ß', 10.0, "0,0 0,15.5 c4.5,15.5,4.5,4.5,180,-90 3.5,11 | 4.5,11 c4.5,5.5,5.5,5.5,90,-110"),
    ('µ', 10.0, "0,14 0,-6 | 0,5 c5,5,5,5,180,360 | 10,14 10,0"),
    ('½', 18.0, "0,17.5 3,20 3,11 | 3,0 15,20 | c14.5,6.5,3,3,160,-35 11.5,0 18,0"),
    ('²', 7.0, "c3.5,17,3.2,3,160,-35 0,10 7,10"),
    ('³', 6.5, "c3,17.6,2.8,2.4,150,-90 | c3,12.6,3.2,2.6,90,-150"),
    ('ı', 0.0, "0,0 0,14"),
];

/// What stands over a letter: its strokes about the letter's middle, over a small letter.
const DIAERESIS: &str = "-3,18.5 -3,19.5 | 3,18.5 3,19.5";
const ACUTE: &str = "-1,17 2,21";
const GRAVE: &str = "1,17 -2,21";
const CIRCUMFLEX: &str = "-3,17 0,20.5 3,17";
const CARON: &str = "-3,20.5 0,17 3,20.5";
const TILDE: &str = "c-2,18,2,1.5,180,0 c2,18,2,1.5,180,360";
const RING: &str = "c0,18.8,2,2,90,450";
const CEDILLA: &str = "0,0 0.5,-2 c-0.5,-3.8,1.8,1.8,90,-120";

/// Letters made of another one and a sign over it, for names.
#[rustfmt::skip]
const ACCENTED: [(&str, &str, &str); 9] = [
    ("äëïöüÿÄËÏÖÜ", "aeıouyAEIOU", DIAERESIS),
    ("áéíóúýńśźćÁÉÍÓÚÝ", "aeıouynszcAEIOUY", ACUTE),
    ("àèìòùÀÈÌÒÙ", "aeıouAEIOU", GRAVE),
    ("âêîôûÂÊÎÔÛ", "aeıouAEIOU", CIRCUMFLEX),
    ("čřšžěČŘŠŽĚ", "crszeCRSZE", CARON),
    ("ãñõÃÑÕ", "anoANO", TILDE),
    ("åůÅŮ", "auAU", RING),
    ("çÇ", "cC", CEDILLA),
    ("‑\u{a0}\u{202f}\u{2009}μ⌀", "-   µØ", ""),
];

/// In place of a letter that the alphabet lacks.
const UNKNOWN: (f64, &str) = (10.0, "0,0 0,20 10,20 10,0 0,0");

/// A letter in units, its strokes from x = 0 on.
struct Letter {
    width: f64,
    strokes: Vec<Vec<Point>>,
}

static ALPHABET: LazyLock<BTreeMap<char, Letter>> = LazyLock::new(|| {
    let plain = |width: f64, text: &str| Letter { width, strokes: read(text) };
    let mut all: BTreeMap<char, Letter> =
        LETTERS.iter().map(|(sign, width, text)| (*sign, plain(*width, text))).collect();
    for (signs, bases, over) in ACCENTED {
        for (sign, base) in signs.chars().zip(bases.chars()) {
            let Some(Letter { width, strokes }) = all.get(&base) else { continue };
            let lift = if base.is_uppercase() && over != CEDILLA { 5.5 } else { 0.0 };
            let above = read(over).into_iter().map(|stroke| {
                stroke.into_iter().map(|p| Point::new(p.x + width / 2.0, p.y + lift)).collect()
            });
            let strokes = strokes.iter().cloned().chain(above).collect();
            let width = *width;
            all.insert(sign, Letter { width, strokes });
        }
    }
    all
});

static BOX: LazyLock<Letter> =
    LazyLock::new(|| Letter { width: UNKNOWN.0, strokes: read(UNKNOWN.1) });

/// The strokes that a letter's text stands for.
fn read(text: &str) -> Vec<Vec<Point>> {
    text.split('|').map(stroke).filter(|stroke| !stroke.is_empty()).collect()
}

fn stroke(text: &str) -> Vec<Point> {
    let mut points = Vec::new();
    for item in text.split_whitespace() {
        let numbers: Vec<f64> =
            item.trim_start_matches('c').split(',').filter_map(|n| n.parse().ok()).collect();
        match numbers[..] {
            [x, y] => points.push(Point::new(x, y)),
            [x, y, rx, ry, from, to] => {
                let turn: f64 = to - from;
                #[expect(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "at most a turn in chords"
                )]
                let chords = (turn.abs() / CHORD).ceil() as u32;
                points.extend((0..=chords).map(|i| {
                    let angle = from + turn * f64::from(i) / f64::from(chords);
                    let (sin, cos) = angle.to_radians().sin_cos();
                    Point::new(x + rx * cos, y + ry * sin)
                }));
            }
            _ => {}
        }
    }
    points
}

fn letter(sign: char) -> &'static Letter {
    ALPHABET.get(&sign).unwrap_or_else(|| &BOX)
}

/// How far one letter takes the next one along, in units.
fn advance(letter: &Letter) -> f64 {
    letter.width + 2.0 * SIDE
}

/// The strokes of a line of text with capitals of `height` mm, each a chain of two points or more:
/// its base line at y = 0 from x = 0 on, y up. What the alphabet lacks becomes a box; a line break
/// or other control character a space.
#[must_use]
pub fn strokes(text: &str, height: f64) -> Vec<Vec<Point>> {
    let scale = height / CAPITAL;
    let mut all = Vec::new();
    let mut x = SIDE;
    for sign in text.chars().map(spaced) {
        let letter = letter(sign);
        let place = |p: &Point| Point::new((p.x + x) * scale, p.y * scale);
        all.extend(letter.strokes.iter().map(|stroke| stroke.iter().map(place).collect()));
        x += advance(letter);
    }
    all
}

/// The width of the line of text in mm, with the space that its first and last letter keep free.
#[must_use]
pub fn width(text: &str, height: f64) -> f64 {
    text.chars().map(|sign| advance(letter(spaced(sign)))).sum::<f64>() * height / CAPITAL
}

fn spaced(sign: char) -> char {
    if sign.is_control() { ' ' } else { sign }
}

/// `text` broken at spaces into lines no wider than `widest` mm; a word that is wider is broken
/// too.
#[must_use]
pub fn wrap(text: &str, height: f64, widest: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if width(&format!("{line} {word}"), height) <= widest => {
                line.push(' ');
                line.push_str(word);
            }
            _ => {
                lines.push(String::new());
                for sign in word.chars() {
                    let full = lines.last().is_some_and(|line: &String| {
                        !line.is_empty() && width(&format!("{line}{sign}"), height) > widest
                    });
                    if full {
                        lines.push(String::new());
                    }
                    if let Some(line) = lines.last_mut() {
                        line.push(sign);
                    }
                }
            }
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ascii() -> impl Iterator<Item = char> {
        (' '..='~').filter(|sign| *sign != ' ')
    }

    /// The strokes in hundredths of a unit, in an order of their own.
    fn look(sign: char) -> Vec<Vec<[String; 2]>> {
        let mut look: Vec<Vec<[String; 2]>> = strokes(&sign.to_string(), CAPITAL)
            .iter()
            .map(|stroke| {
                stroke.iter().map(|p| [format!("{:.2}", p.x), format!("{:.2}", p.y)]).collect()
            })
            .collect();
        look.sort();
        look
    }

    #[test]
    fn every_printable_letter_has_strokes_within_its_width_and_height() {
        for sign in ascii().chain(ALPHABET.keys().copied().filter(|sign| !is_space(*sign))) {
            let (text, height) = (sign.to_string(), 10.0);
            let strokes = strokes(&text, height);
            assert!(ALPHABET.contains_key(&sign) && !strokes.is_empty(), "{sign} is missing");
            for point in strokes.iter().flatten() {
                assert!((0.0..=width(&text, height)).contains(&point.x), "{sign} at {point:?}");
                assert!((-0.35 * height..=1.4 * height).contains(&point.y), "{sign} at {point:?}");
            }
            assert!(strokes.iter().all(|stroke| stroke.len() > 1), "{sign} has a lone point");
        }
    }

    fn is_space(sign: char) -> bool {
        letter(sign).strokes.is_empty()
    }

    #[test]
    fn every_item_of_the_alphabet_is_understood() {
        let accents = ACCENTED.iter().map(|(.., over)| *over);
        let texts = LETTERS.iter().map(|(.., text)| *text).chain(accents).chain([UNKNOWN.1]);
        for item in texts.flat_map(str::split_whitespace).filter(|item| *item != "|") {
            let (arc, numbers) = item.strip_prefix('c').map_or((false, item), |rest| (true, rest));
            let numbers: Vec<f64> =
                numbers.split(',').map(|n| n.parse().expect("a number")).collect();
            assert_eq!(numbers.len(), if arc { 6 } else { 2 }, "{item}");
        }
        for (signs, bases, _) in ACCENTED {
            assert_eq!(signs.chars().count(), bases.chars().count(), "{signs}");
            assert!(bases.chars().all(|base| ALPHABET.contains_key(&base)), "{bases}");
        }
    }

    #[test]
    fn no_two_letters_look_alike() {
        let mut seen: BTreeMap<_, char> = BTreeMap::new();
        for sign in ascii().chain(['°', '×', '±', '–', '−', 'ø', '\u{1f528}']) {
            if let Some(other) = seen.insert(look(sign), sign) {
                panic!("{sign} looks like {other}");
            }
        }
    }

    #[test]
    fn widths_add_up_and_grow_with_the_height() {
        let text = "Cut along this line, lay over B2: 90° ± 0.5";
        let sum: f64 = text.chars().map(|sign| width(&sign.to_string(), 3.0)).sum();
        assert!((width(text, 3.0) - sum).abs() < 1e-9);
        assert!((width(text, 6.0) - 2.0 * sum).abs() < 1e-9);
        let right = strokes(text, 3.0).iter().flatten().map(|p| p.x).fold(0.0, f64::max);
        assert!(right < sum && right > sum - 1.0, "{right} of {sum}");
    }

    #[test]
    fn an_unknown_letter_is_a_box_and_a_line_break_a_space() {
        assert_eq!(strokes("漢", 20.0), strokes("\u{1f528}", 20.0));
        assert_eq!(strokes("漢", 20.0).concat().len(), 5);
        assert!(strokes("\n", 20.0).is_empty() && width("\n", 20.0) == width(" ", 20.0));
    }

    #[test]
    fn lines_are_broken_at_spaces_and_keep_every_word() {
        let text = "Measure both bars with a steel rule before anything is cut.";
        let lines = wrap(text, 2.5, 50.0);
        assert!(lines.len() > 1 && lines.iter().all(|line| width(line, 2.5) <= 50.0));
        assert_eq!(lines.join(" "), text);
        let pieces = wrap(&"x".repeat(200), 2.5, 50.0);
        assert!(pieces.iter().all(|piece| width(piece, 2.5) <= 50.0));
        assert_eq!(pieces.concat().len(), 200);
    }
}
