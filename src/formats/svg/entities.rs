//! How much the entities of an SVG file make when they are written out, before anything writes them
//! out.

use std::collections::BTreeMap;

use crate::formats::outline::ImportProblem;
use crate::tolerance::{LARGEST_IMPORT, MOST_ATTRIBUTES};

/// Refuses a file whose entities, written out, make more text than any drawing holds, or hold
/// elements; and elements with attributes without end.
pub(super) fn check_entities(text: &str) -> Result<(), ImportProblem> {
    let unfit = |message: String| Err(ImportProblem::Unfit { message });
    let most = most_attributes(text);
    if most > MOST_ATTRIBUTES {
        return unfit(format!(
            "an element has {most} attributes; {MOST_ATTRIBUTES} are the most that is read"
        ));
    }
    let entities = declared(text);
    if entities.is_empty() {
        return Ok(());
    }
    if let Some((name, _)) = entities.iter().find(|(_, value)| value.contains('<')) {
        return unfit(format!(
            "the entity `{name}` holds elements; write them out where they are to be drawn"
        ));
    }
    let mut sizes = BTreeMap::new();
    // The parser takes no entities more than ten deep in one another.
    for _ in 0..=10 {
        let mut next: BTreeMap<&str, usize> = BTreeMap::new();
        for (name, value) in &entities {
            let size = next.entry(*name).or_default();
            *size = (*size).max(value.len().saturating_add(made(value, &sizes)));
        }
        sizes = next;
    }
    if made(text, &sizes) > LARGEST_IMPORT {
        return unfit(format!(
            "the entities of this file, written out, make more than {} MB",
            LARGEST_IMPORT >> 20
        ));
    }
    Ok(())
}

/// How many bytes the entities named in `text` make.
fn made(text: &str, sizes: &BTreeMap<&str, usize>) -> usize {
    let names =
        text.split('&').skip(1).filter_map(|after| after.split_once(';')).map(|(name, _)| name);
    names.filter_map(|name| sizes.get(name)).fold(0, |sum: usize, size| sum.saturating_add(*size))
}

/// The entities that the file declares, each with its text; what is declared twice, or in a
/// comment, comes more than once.
fn declared(text: &str) -> Vec<(&str, &str)> {
    let mut all = Vec::new();
    for after in text.split("<!ENTITY").skip(1) {
        let after = after.trim_start();
        let Some(at) = after.find(['"', '\'']) else { continue };
        let (name, rest) = after.split_at(at);
        let value = rest[1..].split(&rest[..1]).next().unwrap_or_default();
        all.push((name.trim(), value));
    }
    all
}

/// The most attributes that one tag holds: signs of equality outside quotes.
fn most_attributes(text: &str) -> usize {
    let (mut most, mut rest) = (0, text);
    while let Some(at) = rest.find('<') {
        rest = &rest[at..];
        let skipped = [("<!--", "-->"), ("<![CDATA[", "]]>"), ("<?", "?>")]
            .into_iter()
            .find(|(begin, _)| rest.starts_with(begin));
        if let Some((begin, end)) = skipped {
            rest = rest[begin.len()..].split_once(end).map_or("", |(_, after)| after);
            continue;
        }
        let (mut count, mut quote, mut length) = (0, None, rest.len());
        for (i, byte) in rest.bytes().enumerate().skip(1) {
            match (byte, quote) {
                (_, Some(open)) => quote = Some(open).filter(|open| *open != byte),
                (b'"' | b'\'', None) => quote = Some(byte),
                (b'=', None) => count += 1,
                // A declaration holds others.
                (b'>' | b'[' | b'<', None) => {
                    length = i;
                    break;
                }
                _ => {}
            }
        }
        most = most.max(count);
        rest = &rest[length..];
    }
    most
}

#[cfg(test)]
mod tests {
    use std::fmt::Write as _;

    use super::*;

    #[test]
    fn entities_are_counted_as_what_they_make() {
        let file = |length: usize, doubled: usize, used: usize| {
            let mut text = format!("<!DOCTYPE svg [<!ENTITY e0 \"{}\">", "1 ".repeat(length / 2));
            for i in 0..doubled {
                let _ = write!(text, "<!ENTITY e{} \"&e{i};&e{i};\">", i + 1);
            }
            format!("{text}]><svg><path d=\"{}\"/></svg>", format!("&e{doubled};").repeat(used))
        };
        assert_eq!(check_entities(&file(10, 0, 3)), Ok(()));
        // 100 kB, 1,000 times; 1 kB doubled 8 times, 1,000 times.
        for bomb in [file(100_000, 0, 1000), file(1000, 8, 1000)] {
            let problem = check_entities(&bomb).expect_err("100 MB and 256 MB");
            assert!(problem.to_string().contains("64 MB"), "{problem}");
        }
        // One that a comment declares first counts for nothing.
        let hidden =
            file(100_000, 0, 1000).replace("[<!ENTITY", "[<!-- <!ENTITY e0 \"1\"> --><!ENTITY");
        assert!(check_entities(&hidden).is_err());
    }

    #[test]
    fn attributes_are_counted_tag_by_tag() {
        assert_eq!(
            most_attributes(
                "<svg a='=' b=\"<x y=z>\"><!-- don't a=b c=d e=f --><?p q=r?><g c='1' d='2' e='3'/>a=b=c=d=e</svg>"
            ),
            3
        );
    }
}
