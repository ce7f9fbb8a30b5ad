//! The known names that come nearest to one that is not known.

/// Names longer than this are compared by their beginning alone, so that a long line of nonsense costs nothing.
const COMPARED_LETTERS: usize = 64;

/// The `known` names nearest to `asked`: those that contain it or begin with it, else those with the fewest letters changed.
///
/// Case, spaces, `-`, `_` and `.` don't count. Gives nothing when even the nearest name has more than half its letters wrong.
#[must_use]
pub fn nearest_names<'a>(asked: &str, known: impl Iterator<Item = &'a str>) -> Vec<&'a str> {
    let asked = letters(asked);
    let known: Vec<(&str, Vec<char>)> = known.map(|name| (name, letters(name))).collect();
    let beginning: Vec<&str> =
        known.iter().filter(|(_, name)| !asked.is_empty() && name.starts_with(&asked)).map(|(name, _)| *name).collect();
    if !beginning.is_empty() {
        return beginning;
    }
    let distances: Vec<usize> = known.iter().map(|(_, name)| changes(&asked, name)).collect();
    let Some(&least) = distances.iter().min() else { return Vec::new() };
    let near = |(name, distance): &(&(&'a str, Vec<char>), &usize)| **distance == least && 2 * least <= name.1.len();
    known.iter().zip(&distances).filter(near).map(|((name, _), _)| *name).collect()
}

/// The letters that count when two names are compared.
fn letters(name: &str) -> Vec<char> {
    name.chars()
        .filter(|letter| !letter.is_whitespace() && !"-_.".contains(*letter))
        .flat_map(char::to_lowercase)
        .take(COMPARED_LETTERS)
        .collect()
}

/// How many letters must be put in, taken out or replaced to make one word of the other (Levenshtein's distance, 1965).
fn changes(from: &[char], to: &[char]) -> usize {
    let mut row: Vec<usize> = (0..=to.len()).collect();
    for (line, letter) in from.iter().enumerate() {
        let mut diagonal = row[0];
        row[0] = line + 1;
        for (column, other) in to.iter().enumerate() {
            let replaced = diagonal + usize::from(letter != other);
            diagonal = row[column + 1];
            row[column + 1] = replaced.min(diagonal + 1).min(row[column] + 1);
        }
    }
    row[to.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distance_of_the_textbook_pair() {
        // kitten -> sitting takes three changes: the usual textbook example of the distance.
        assert_eq!(changes(&letters("kitten"), &letters("sitting")), 3);
        assert_eq!(changes(&[], &letters("abc")), 3);
    }

    #[test]
    fn finds_slips_and_beginnings_and_refuses_nonsense() {
        let known = ["4130-annealed", "4130-normalized", "304"];
        assert_eq!(nearest_names("4130", known.into_iter()), ["4130-annealed", "4130-normalized"]);
        assert_eq!(nearest_names("4130 Normalised", known.into_iter()), ["4130-normalized"]);
        assert_eq!(nearest_names("305", known.into_iter()), ["304"]);
        assert!(nearest_names("cheese", known.into_iter()).is_empty());
        assert!(nearest_names("", known.into_iter()).is_empty());
        assert!(nearest_names(&"x".repeat(1_000_000), known.into_iter()).is_empty());
    }
}
