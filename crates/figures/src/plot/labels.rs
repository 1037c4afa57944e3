//! Placing marks and words so that none covers another.

use std::cmp::Ordering;
use std::collections::BTreeSet;

/// Places boxes along a line: each as near as it can be to where it wants its
/// middle, in the given order of wishes, `gap` apart, within `low..=high`.
/// Boxes and results are (middle, size) and middle.
pub(crate) fn spread(boxes: &[(i32, i32)], gap: i32, low: i32, high: i32) -> Vec<i32> {
    let mut order: Vec<usize> = (0..boxes.len()).collect();
    order.sort_by_key(|&i| boxes[i].0);
    let mut middles = vec![0; boxes.len()];
    let mut edge = low;
    for &i in &order {
        let (wish, size) = boxes[i];
        middles[i] = (wish - size / 2).max(edge) + size / 2;
        edge = middles[i] - size / 2 + size + gap;
    }
    let mut edge = high;
    for &i in order.iter().rev() {
        let size = boxes[i].1;
        middles[i] = middles[i].min(edge - (size - size / 2));
        edge = middles[i] - size / 2 - gap;
    }
    middles
}

/// Places words beside upright lines that rise from below, like flags on poles,
/// in rows of which row 0 is the lowest: no word covers another, and no pole runs
/// through a word. Flags are (pole, width), poles rising; the answer is (left edge,
/// row), or nothing for a flag that finds no room in `most_rows`.
pub(crate) fn flags(
    flags: &[(i32, i32)],
    gap: i32,
    high: i32,
    most_rows: usize,
) -> Vec<Option<(i32, usize)>> {
    let mut placed: Vec<Option<(i32, usize)>> = vec![None; flags.len()];
    for i in (0..flags.len()).rev() {
        let (pole, width) = flags[i];
        let left = (pole + gap / 2).min(high - width);
        let free = |row: &usize| {
            placed.iter().zip(flags).all(|(other, &(its_pole, its_width))| match *other {
                None => true,
                Some((its_left, its_row)) => {
                    let through = |x: i32, from: i32, to: i32| from - gap / 2 < x && x < to;
                    match its_row.cmp(row) {
                        Ordering::Equal => {
                            left + width + gap <= its_left || its_left + its_width + gap <= left
                        }
                        Ordering::Less => !through(pole, its_left, its_left + its_width),
                        Ordering::Greater => !through(its_pole, left, left + width),
                    }
                }
            })
        };
        placed[i] = (0..most_rows).find(free).map(|row| (left, row));
    }
    placed
}

/// Chooses which of many marks to draw, `gap` apart: the first of each kind,
/// then every one whose kind differs from the one before, then the others.
/// Marks are (position, kind), positions rising; the answer is rising too.
pub(crate) fn thin_marks<K: PartialEq>(marks: &[(i32, K)], gap: i32) -> Vec<usize> {
    let rank = |i: usize| {
        let kind = &marks[i].1;
        if !marks[..i].iter().any(|(_, earlier)| earlier == kind) {
            0
        } else if marks[i - 1].1 != *kind {
            1
        } else {
            2
        }
    };
    let mut order: Vec<(u8, usize)> = (0..marks.len()).map(|i| (rank(i), i)).collect();
    order.sort_unstable();
    let mut taken: BTreeSet<i32> = BTreeSet::new();
    let mut chosen: Vec<usize> = Vec::new();
    for (_, i) in order {
        let at = marks[i].0;
        if taken.range(at - gap + 1..at + gap).next().is_none() {
            taken.insert(at);
            chosen.push(i);
        }
    }
    chosen.sort_unstable();
    chosen
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn boxes_that_want_the_same_place_are_spread_inside_the_limits() {
        let boxes = [(50, 20), (50, 20), (95, 20), (2, 10)];
        let middles = spread(&boxes, 2, 0, 100);
        let mut spans: Vec<(i32, i32)> =
            middles.iter().zip(boxes).map(|(m, (_, size))| (m - size / 2, m + size / 2)).collect();
        spans.sort_unstable();
        assert!(spans.windows(2).all(|w| w[0].1 + 2 <= w[1].0), "{spans:?}");
        assert!(spans[0].0 >= 0 && spans[3].1 <= 100);
        assert_eq!(spread(&[(50, 20)], 2, 0, 100), [50]);
    }

    #[test]
    fn flags_neither_touch_nor_stand_in_the_way_of_a_pole() {
        let placed = flags(&[(50, 40), (60, 40), (70, 40), (150, 40)], 4, 160, 2);
        assert_eq!(placed, [None, Some((62, 1)), Some((72, 0)), Some((120, 0))]);
    }

    #[test]
    fn thinned_marks_show_each_kind_and_each_change() {
        let kinds = "pppppppptppppppppppp".chars();
        let marks: Vec<(i32, char)> = kinds.enumerate().map(|(i, k)| (i as i32 * 4, k)).collect();
        let chosen = thin_marks(&marks, 10);
        assert!(chosen.contains(&0) && chosen.contains(&8));
        assert!(chosen.windows(2).all(|w| marks[w[1]].0 - marks[w[0]].0 >= 10));
        assert!(chosen.len() >= 6);
    }
}
