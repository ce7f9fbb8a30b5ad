//! Text for files: what a format cannot hold is spelt out, and how wide a line will be.

/// `text` without characters that XML forbids; line breaks and other control characters become
/// spaces.
pub(super) fn printable(text: &str) -> String {
    text.chars()
        .map(|c| if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') { ' ' } else { c })
        .collect()
}

/// `text` in plain ASCII, for DXF: readers of R12 and R2000 disagree on anything else. Signs of the
/// trade are spelt out, accents dropped; what has no likeness becomes `?`. A doubled `%` and a `^`
/// are commands in DXF text and are parted or replaced.
pub(super) fn ascii(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    for c in printable(text).chars() {
        match c {
            '^' => plain.push('\''),
            '%' if plain.ends_with('%') => plain.push_str(" %"),
            '\\' => plain.push('/'),
            c if c.is_ascii() => plain.push(c),
            c => plain.push_str(likeness(c)),
        }
    }
    plain
}

/// The nearest plain spelling of one character.
fn likeness(c: char) -> &'static str {
    match c {
        '°' => " deg",
        'ø' | 'Ø' | '⌀' => "dia ",
        '×' => "x",
        '·' | '•' => "*",
        '±' => "+/-",
        '≤' => "<=",
        '≥' => ">=",
        '≈' => "~",
        '–' | '—' | '−' | '‑' => "-",
        '‘' | '’' | '′' => "'",
        '“' | '”' | '″' | '„' => "\"",
        '…' => "...",
        '²' => "2",
        '³' => "3",
        '½' => "1/2",
        '¼' => "1/4",
        '¾' => "3/4",
        'α' => "alpha",
        'σ' => "sigma",
        'Ω' => "ohm",
        'à' | 'á' | 'â' | 'ã' | 'å' => "a",
        'ö' => "oe",
        'ü' => "ue",
        'Ä' => "Ae",
        'Ö' => "Oe",
        'Ü' => "Ue",
        'ß' => "ss",
        'ä' | 'æ' => "ae",
        'Æ' => "AE",
        'À' | 'Á' | 'Â' | 'Ã' | 'Å' => "A",
        'ç' | 'č' | 'ć' => "c",
        'Ç' | 'Č' | 'Ć' => "C",
        'è' | 'é' | 'ê' | 'ë' | 'ě' => "e",
        'È' | 'É' | 'Ê' | 'Ë' => "E",
        'ì' | 'í' | 'î' | 'ï' => "i",
        'Í' => "I",
        'ł' => "l",
        'ñ' | 'ń' => "n",
        'Ñ' => "N",
        'ò' | 'ó' | 'ô' | 'õ' => "o",
        'Ó' => "O",
        'ř' => "r",
        'š' | 'ś' => "s",
        'Š' => "S",
        'ù' | 'ú' | 'û' | 'ů' | 'µ' | 'μ' => "u",
        'ý' | 'ÿ' => "y",
        'ž' | 'ź' | 'ż' => "z",
        'Ž' => "Z",
        '\u{a0}' | '\u{202f}' | '\u{2009}' => " ",
        '→' => "->",
        '←' => "<-",
        '↔' => "<->",
        _ => "?",
    }
}

/// Height of a capital letter over the size of its type, for the sans-serif faces asked for
/// (Helvetica 0.718, from memory).
pub(super) const CAPITAL_OVER_SIZE: f64 = 0.72;

/// An upper estimate of the width in mm of a line of text with capitals of `height` mm: the
/// advances of Helvetica, from memory, and a seventh more for a wider face put in its place.
pub(super) fn width(text: &str, height: f64) -> f64 {
    let advance = |c: char| match c {
        'i' | 'j' | 'l' | '\'' | '|' => 0.23,
        'f' | 't' | ' ' | '.' | ',' | ':' | ';' | '!' | '/' | '\\' | 'I' | '(' | ')' | '['
        | ']' | '-' | 'r' | '"' => 0.34,
        'm' | 'M' | 'w' => 0.84,
        'W' | '@' | '%' => 0.95,
        'A'..='Z' | '+' | '=' | '<' | '>' => 0.70,
        c if c.is_ascii() => 0.56,
        // Wide scripts fill a whole square.
        c if u32::from(c) >= 0x1100 => 1.0,
        _ => 0.70,
    };
    text.chars().map(advance).sum::<f64>() * height / CAPITAL_OVER_SIZE * 1.15
}

/// `text` broken at spaces into lines no wider than `widest` mm; a single word that is wider is
/// broken too.
pub(super) fn wrap(text: &str, height: f64, widest: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line)
                if width(line, height) + width(" ", height) + width(word, height) <= widest =>
            {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.extend(broken(word, height, widest)),
        }
    }
    lines
}

/// One word in pieces no wider than `widest` mm, of a letter at least.
fn broken(word: &str, height: f64, widest: f64) -> Vec<String> {
    let mut pieces = vec![String::new()];
    let mut reach = 0.0;
    for c in word.chars() {
        let advance = width(c.encode_utf8(&mut [0; 4]), height);
        if reach > 0.0 && reach + advance > widest {
            pieces.push(String::new());
            reach = 0.0;
        }
        reach += advance;
        if let Some(piece) = pieces.last_mut() {
            piece.push(c);
        }
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signs_are_spelt_out_in_ascii() {
        assert_eq!(ascii("90° × R3 ± 0,5 – Ø8"), "90 deg x R3 +/- 0,5 - dia 8");
        assert_eq!(ascii("50%%d ^J \\U+0041\n漢"), "50% %d 'J /U+0041 ?");
        assert!(ascii("Größe é ½").is_ascii());
    }

    #[test]
    fn lines_are_broken_at_spaces_and_keep_every_word() {
        let text = "Seen from the hammered side; a line marked long dashes turns toward you.";
        let lines = wrap(text, 2.5, 60.0);
        assert!(lines.len() > 1 && lines.iter().all(|line| width(line, 2.5) <= 60.0));
        assert_eq!(lines.join(" "), text);
        let word = "x".repeat(500);
        let pieces = wrap(&word, 2.5, 60.0);
        assert!(
            pieces.len() > 5
                && pieces.iter().all(|piece| width(piece, 2.5) <= 60.0)
                && pieces.concat() == word
        );
    }
}
