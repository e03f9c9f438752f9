//! A file was changed by somebody else while it was changed here: what do both come to?
//!
//! Line by line: what either changed is taken over, and only where both changed the same lines is nothing merged. Lines that
//! occur once on both sides and stand in the same order hold the two texts together, so that texts of any length are
//! compared in little more time than it takes to read them.

use std::collections::BTreeMap;
use std::ops::Range;

use thiserror::Error;

/// Both changed the same lines.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
#[error("{}", self.in_words())]
pub struct Conflict {
    /// Where, in order; at least one.
    pub overlaps: Vec<Overlap>,
}

/// Lines that both changed, each to something else.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Overlap {
    /// The lines of the common beginning, from 0.
    pub base_lines: Range<usize>,
    /// The lines of my text, from 0; none where they were removed.
    pub my_lines: Range<usize>,
    /// What stands there.
    pub mine: String,
    /// The lines of the other text, from 0; none where they were removed.
    pub their_lines: Range<usize>,
    /// What stands there.
    pub theirs: String,
}

impl Conflict {
    fn in_words(&self) -> String {
        let first = self.overlaps.first();
        let place = first.map_or_else(String::new, |overlap| {
            format!(": {} here, {} in the file", lines(&overlap.my_lines), lines(&overlap.their_lines))
        });
        match self.overlaps.len() {
            0 | 1 => format!("the file was changed in the same place{place}"),
            count => format!("the file was changed in {count} of the same places, first{place}"),
        }
    }
}

fn lines(range: &Range<usize>) -> String {
    match range.len() {
        0 => format!("nothing before line {}", range.start + 1),
        1 => format!("line {}", range.end),
        _ => format!("lines {} to {}", range.start + 1, range.end),
    }
}

/// What two texts come to that were both made from `base`.
///
/// The outcome is a text, not yet a site: two blocks may have come by the same name.
///
/// # Errors
/// Both changed the same lines, or put different lines in at the same place.
///
/// # Example
/// ```
/// use plumbsight::site::merge_outside;
/// let base = "a: 1,\nb: 2,\nc: 3,\n";
/// assert_eq!(merge_outside(base, "a: 1,\nb: 5,\nc: 3,\n", "a: 1,\nb: 2,\nc: 3,\nd: 4,\n").unwrap(), "a: 1,\nb: 5,\nc: 3,\nd: 4,\n");
/// let conflict = merge_outside(base, "a: 1,\nb: 5,\nc: 3,\n", "a: 1,\nb: 6,\nc: 3,\n").unwrap_err();
/// assert_eq!(conflict.to_string(), "the file was changed in the same place: line 2 here, line 2 in the file");
/// ```
pub fn merge_outside(base: &str, mine: &str, theirs: &str) -> Result<String, Conflict> {
    let [base, mine, theirs] = [base, mine, theirs].map(|text| text.split_inclusive('\n').collect::<Vec<_>>());
    let (my_hunks, their_hunks) = (hunks(&base, &mine), hunks(&base, &theirs));
    let (mut my_hunks, mut their_hunks) = (my_hunks.into_iter().peekable(), their_hunks.into_iter().peekable());
    let mut merged = String::new();
    let mut overlaps = Vec::new();
    let mut done = 0;
    // How far each side's lines run ahead of the base's behind the last hunk.
    let (mut my_lead, mut their_lead) = (0_isize, 0_isize);
    loop {
        let next = match (my_hunks.peek(), their_hunks.peek()) {
            (None, None) => break,
            (Some(hunk), None) => (hunk, Side::Mine),
            (None, Some(hunk)) => (hunk, Side::Theirs),
            (Some(my), Some(their)) if order(my) <= order(their) => (my, Side::Mine),
            (Some(_), Some(their)) => (their, Side::Theirs),
        };
        let mut reach = next.0.base.clone();
        merged.extend(base[done..reach.start].iter().copied());
        // Everything of either side that meets this hunk, or what has come to it since.
        let (mut my_part, mut their_part) = (Vec::new(), Vec::new());
        match next.1 {
            Side::Mine => my_part.extend(my_hunks.next()),
            Side::Theirs => their_part.extend(their_hunks.next()),
        }
        loop {
            if let Some(hunk) = my_hunks.next_if(|hunk| meets(&reach, &hunk.base)) {
                reach.end = reach.end.max(hunk.base.end);
                my_part.push(hunk);
            } else if let Some(hunk) = their_hunks.next_if(|hunk| meets(&reach, &hunk.base)) {
                reach.end = reach.end.max(hunk.base.end);
                their_part.push(hunk);
            } else {
                break;
            }
        }
        let my_lines = lines_of(&reach, &my_part, &mut my_lead);
        let their_lines = lines_of(&reach, &their_part, &mut their_lead);
        let (my_text, their_text) = (mine[my_lines.clone()].concat(), theirs[their_lines.clone()].concat());
        if their_part.is_empty() || my_text == their_text {
            merged.push_str(&my_text);
        } else if my_part.is_empty() {
            merged.push_str(&their_text);
        } else {
            let base_lines = reach.clone();
            overlaps.push(Overlap { base_lines, my_lines, mine: my_text, their_lines, theirs: their_text });
        }
        done = reach.end;
    }
    merged.extend(base[done..].iter().copied());
    if overlaps.is_empty() { Ok(merged) } else { Err(Conflict { overlaps }) }
}

enum Side {
    Mine,
    Theirs,
}

/// Lines of the base, and those that stand in their place.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Hunk {
    base: Range<usize>,
    side: Range<usize>,
}

/// What is put in before a line comes before a change of that line.
fn order(hunk: &Hunk) -> (usize, usize) {
    (hunk.base.start, hunk.base.end)
}

/// Whether two changes are about the same lines, or are both put in at the same place. Neighbours do not meet.
fn meets(reach: &Range<usize>, next: &Range<usize>) -> bool {
    let both_put_in = reach.is_empty() && next.is_empty() && reach.start == next.start;
    both_put_in || (reach.start < next.end && next.start < reach.end)
}

/// The lines of a side that stand for these lines of the base.
fn lines_of(base: &Range<usize>, part: &[Hunk], lead: &mut isize) -> Range<usize> {
    let start = base.start.saturating_add_signed(*lead);
    *lead += part.iter().map(|hunk| hunk.side.len() as isize - hunk.base.len() as isize).sum::<isize>();
    start..base.end.saturating_add_signed(*lead)
}

/// What was changed from one text to another, in order; no two touch.
fn hunks(base: &[&str], side: &[&str]) -> Vec<Hunk> {
    let mut found = Vec::new();
    compare(base, side, (0, 0), &mut found);
    let mut joined: Vec<Hunk> = Vec::with_capacity(found.len());
    for hunk in found {
        match joined.last_mut() {
            Some(last) if last.base.end == hunk.base.start && last.side.end == hunk.side.start => {
                last.base.end = hunk.base.end;
                last.side.end = hunk.side.end;
            }
            _ => joined.push(hunk),
        }
    }
    joined
}

fn compare(base: &[&str], side: &[&str], (base_at, side_at): (usize, usize), found: &mut Vec<Hunk>) {
    let head = base.iter().zip(side).take_while(|(a, b)| a == b).count();
    let (base, side) = (&base[head..], &side[head..]);
    let tail = base.iter().rev().zip(side.iter().rev()).take_while(|(a, b)| a == b).count();
    let (base, side) = (&base[..base.len() - tail], &side[..side.len() - tail]);
    let (base_at, side_at) = (base_at + head, side_at + head);
    let anchors = anchors(base, side);
    if anchors.is_empty() {
        if !base.is_empty() || !side.is_empty() {
            found.push(Hunk { base: base_at..base_at + base.len(), side: side_at..side_at + side.len() });
        }
        return;
    }
    let (mut base_from, mut side_from) = (0, 0);
    for (base_to, side_to) in anchors.into_iter().chain([(base.len(), side.len())]) {
        let at = (base_at + base_from, side_at + side_from);
        compare(&base[base_from..base_to], &side[side_from..side_to], at, found);
        (base_from, side_from) = (base_to, side_to);
    }
}

/// Lines that occur once on either side, as many as stand in the same order on both.
fn anchors(base: &[&str], side: &[&str]) -> Vec<(usize, usize)> {
    let on_side = once(side);
    let mut pairs: Vec<(usize, usize)> = once(base)
        .into_iter()
        .filter_map(|(line, place)| Some((place?, on_side.get(line).copied().flatten()?)))
        .collect();
    pairs.sort_unstable();
    // The longest rising sequence of the second numbers: for each length the pair that ends it lowest.
    let mut ends: Vec<usize> = Vec::new();
    let mut before: Vec<Option<usize>> = vec![None; pairs.len()];
    for index in 0..pairs.len() {
        let length = ends.partition_point(|&end| pairs[end].1 < pairs[index].1);
        before[index] = length.checked_sub(1).map(|shorter| ends[shorter]);
        if length == ends.len() {
            ends.push(index);
        } else {
            ends[length] = index;
        }
    }
    let mut chain = Vec::with_capacity(ends.len());
    let mut at = ends.last().copied();
    while let Some(index) = at {
        chain.push(pairs[index]);
        at = before[index];
    }
    chain.reverse();
    chain
}

/// Where each line stands, if it occurs only once.
fn once<'a>(lines: &[&'a str]) -> BTreeMap<&'a str, Option<usize>> {
    let mut places = BTreeMap::new();
    for (index, line) in lines.iter().enumerate() {
        places.entry(*line).and_modify(|place| *place = None).or_insert(Some(index));
    }
    places
}

#[cfg(test)]
mod tests {
    use super::*;

    fn merged(base: &str, mine: &str, theirs: &str) -> Result<String, Vec<(String, String)>> {
        let spaced = |text: &str| text.split(' ').filter(|line| !line.is_empty()).collect::<Vec<_>>().join("\n") + "\n";
        merge_outside(&spaced(base), &spaced(mine), &spaced(theirs))
            .map(|text| text.split_whitespace().collect::<Vec<_>>().join(" "))
            .map_err(|conflict| {
                let flat = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
                conflict.overlaps.iter().map(|overlap| (flat(&overlap.mine), flat(&overlap.theirs))).collect()
            })
    }

    #[test]
    fn what_either_changed_is_taken_over() {
        for (base, mine, theirs, both) in [
            ("a b c", "a b c", "a b c", "a b c"),
            ("a b c", "a x c", "a b c", "a x c"),
            ("a b c", "a x c", "a x c", "a x c"),
            // Neighbouring lines are different items.
            ("a b c d", "a x c d", "a b y d", "a x y d"),
            ("a b c d", "a c d", "a b y d", "a y d"),
            ("a b c d", "a new b c d", "a y c d", "a new y c d"),
            ("a b c d", "a b new c d", "a y c d", "a y new c d"),
            ("a b c", "new a b c", "a b c end", "new a b c end"),
            ("a b c", "a b c new", "a b c new", "a b c new"),
            ("a b c d e f", "a c d e f", "a b c d e", "a c d e"),
            // Lines that occur twice.
            ("( x ) ( y ) ( z )", "( x ) ( 1 ) ( z )", "( y ) ( z )", "( 1 ) ( z )"),
            ("", "a", "", "a"),
        ] {
            assert_eq!(merged(base, mine, theirs).as_deref(), Ok(both), "{base} | {mine} | {theirs}");
            assert_eq!(merged(base, theirs, mine).as_deref(), Ok(both), "{base} | {theirs} | {mine}");
        }
    }

    #[test]
    fn what_both_changed_is_reported_with_its_place() {
        for (base, mine, theirs, overlaps) in [
            ("a b c", "a x c", "a y c", vec![("x", "y")]),
            ("a b c", "a c", "a y c", vec![("", "y")]),
            ("a b c", "a b new c", "a b other c", vec![("new", "other")]),
            ("a b c d e", "a x y d e", "a b z w e", vec![("x y d", "b z w")]),
            ("a b c d e", "1 b c d 2", "3 b c d 4", vec![("1", "3"), ("2", "4")]),
            ("a b c d", "a b new c d", "a y d", vec![("b new c", "y")]),
        ] {
            let overlaps = overlaps.into_iter().map(|(a, b)| (a.to_owned(), b.to_owned())).collect();
            assert_eq!(merged(base, mine, theirs), Err(overlaps), "{base} | {mine} | {theirs}");
        }
        let conflict = merge_outside("a\nb\nc\nd\n", "new\na\nx\ny\nd\n", "a\nd\n").expect_err("both");
        let overlap = &conflict.overlaps[0];
        assert_eq!(
            (overlap.base_lines.clone(), overlap.my_lines.clone(), overlap.their_lines.clone()),
            (1..3, 2..4, 1..1)
        );
        assert_eq!(
            conflict.to_string(),
            "the file was changed in the same place: lines 3 to 4 here, nothing before line 2 in the file"
        );
    }

    #[test]
    fn long_texts_are_merged_in_a_moment() {
        let text = |change: &dyn Fn(usize) -> Option<String>| -> String {
            (0..100_000).map(|line| change(line).unwrap_or_else(|| format!("({}),\n", line % 70_000))).collect()
        };
        let base = text(&|_| None);
        let mine = text(&|line| (line % 1000 == 1).then(|| "mine\n".into()));
        let theirs = text(&|line| (line % 1000 == 2).then(String::new));
        let both = text(&|line| match line % 1000 {
            1 => Some("mine\n".into()),
            2 => Some(String::new()),
            _ => None,
        });
        assert_eq!(merge_outside(&base, &mine, &theirs).expect("no overlap"), both);
        // Nothing in common, and nothing that occurs once.
        let (other, same) = ("x\n".repeat(50_000), "y\n".repeat(50_000));
        assert_eq!(merge_outside(&base, &other, &base).as_deref(), Ok(other.as_str()));
        assert_eq!(merge_outside(&same, &other, &same).as_deref(), Ok(other.as_str()));
    }

    mod properties {
        use proptest::prelude::*;

        use super::*;

        fn lines() -> impl Strategy<Value = Vec<u8>> {
            proptest::collection::vec(0_u8..6, 0..12)
        }

        fn text(lines: &[u8]) -> String {
            lines.iter().map(|line| format!("{line}\n")).collect()
        }

        proptest! {
            #[test]
            fn one_side_alone_is_that_side(base in lines(), side in lines()) {
                let (base, side) = (text(&base), text(&side));
                prop_assert_eq!(merge_outside(&base, &side, &base), Ok(side.clone()));
                prop_assert_eq!(merge_outside(&base, &base, &side), Ok(side.clone()));
                prop_assert_eq!(merge_outside(&base, &side, &side), Ok(side.clone()));
            }

            #[test]
            fn both_ways_round_are_the_same(base in lines(), mine in lines(), theirs in lines()) {
                let (base, mine, theirs) = (text(&base), text(&mine), text(&theirs));
                match (merge_outside(&base, &mine, &theirs), merge_outside(&base, &theirs, &mine)) {
                    (Ok(one), Ok(other)) => prop_assert_eq!(one, other),
                    (Err(one), Err(other)) => {
                        for (one, other) in one.overlaps.iter().zip(&other.overlaps) {
                            prop_assert_eq!((&one.mine, &one.theirs), (&other.theirs, &other.mine));
                            let stands = |text: &str, lines: &Range<usize>| -> String {
                                text.split_inclusive('\n').skip(lines.start).take(lines.len()).collect()
                            };
                            prop_assert_eq!(&one.mine, &stands(&mine, &one.my_lines));
                            prop_assert_eq!(&one.theirs, &stands(&theirs, &one.their_lines));
                        }
                    }
                    (one, other) => prop_assert!(false, "{:?} {:?}", one, other),
                }
            }
        }
    }
}
