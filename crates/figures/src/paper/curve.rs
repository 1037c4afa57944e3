//! From the points of a curve to what is drawn of it.

use plotters_backend::BackendCoord;

use crate::paper::grid::GRID;

/// A stretch of a curve without a jump: points (time s, value), time rising.
///
/// Pieces that meet in time but not in value make a jump, which is drawn as one.
pub type Piece = Vec<(f64, f64)>;

/// One part of a drawn curve, in grid units.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Stroke {
    Line(Vec<BackendCoord>),
    Jump(BackendCoord, BackendCoord),
}

/// The part of a curve between two times, cut by straight lines at both ends.
pub(crate) fn clip(pieces: &[Piece], start_s: f64, end_s: f64) -> Vec<Piece> {
    let inside = |t: f64| (start_s..=end_s).contains(&t);
    let mut clipped = Vec::new();
    for piece in pieces {
        let mut kept: Piece = Vec::new();
        for (i, &(t, y)) in piece.iter().enumerate() {
            if let Some(&(t0, y0)) = i.checked_sub(1).and_then(|before| piece.get(before)) {
                for edge in [start_s, end_s] {
                    if t0 < edge && edge < t {
                        kept.push((edge, y0 + (y - y0) * ((edge - t0) / (t - t0))));
                    }
                }
            }
            if inside(t) {
                kept.push((t, y));
            }
        }
        // A piece that only touches the window would draw a jump at its edge.
        if kept.len() > 1 || (kept.len() == 1 && piece.len() == 1) {
            clipped.push(kept);
        }
    }
    clipped
}

/// Joins pieces that meet, tells jumps apart, and leaves out points that no one
/// could see: in each column of one CSS pixel the first, lowest, highest and last
/// point remain, so every extreme is drawn exactly.
pub(crate) fn strokes(pieces: &[Vec<BackendCoord>]) -> Vec<Stroke> {
    let mut lines: Vec<Vec<BackendCoord>> = Vec::new();
    let mut jumps = Vec::new();
    for piece in pieces {
        let Some(&first) = piece.first() else {
            continue;
        };
        match lines.last_mut() {
            Some(line) if line.last().is_some_and(|&end| meets(end, first)) => {
                line.extend_from_slice(&piece[1..]);
            }
            last => {
                if let Some(&end) = last.and_then(|line| line.last())
                    && end.0 == first.0
                {
                    jumps.push(Stroke::Jump(end, first));
                }
                lines.push(piece.clone());
            }
        }
    }
    let lines = lines.iter().map(|line| Stroke::Line(thin(line)));
    jumps.into_iter().chain(lines).collect()
}

/// A stretch of a band: columns (left, right) with the lowest and highest point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Column {
    pub left: i32,
    pub right: i32,
    pub top: i32,
    pub bottom: i32,
}

/// The extent of a curve in columns of the given width from `origin` on, each
/// exact: values where the curve passes from one column to the next belong to
/// both. A last column that is not full is joined to the one before, since it
/// might not hold a whole breath.
pub(crate) fn columns(pieces: &[Vec<BackendCoord>], origin: i32, width: i32) -> Vec<Column> {
    let mut columns: Vec<Column> = Vec::new();
    let column_of = |x: i32| (x - origin).div_euclid(width);
    let mut add = |index: i32, y: i32| {
        let left = origin + index * width;
        match columns.iter_mut().rev().take(2).find(|column| column.left == left) {
            Some(column) => {
                column.top = column.top.min(y);
                column.bottom = column.bottom.max(y);
            }
            None => columns.push(Column { left, right: left + width, top: y, bottom: y }),
        }
    };
    for piece in pieces {
        for (i, &(x, y)) in piece.iter().enumerate() {
            if let Some(&(x0, y0)) = i.checked_sub(1).and_then(|before| piece.get(before)) {
                for index in column_of(x0) + 1..=column_of(x) {
                    let share = f64::from(origin + index * width - x0) / f64::from(x - x0);
                    let crossing = y0 + (f64::from(y - y0) * share).round() as i32;
                    add(index - 1, crossing);
                    add(index, crossing);
                }
            }
            add(column_of(x), y);
        }
    }
    let end = pieces.iter().flatten().map(|point| point.0).max().unwrap_or(origin);
    if let [.., before, last] = &mut columns[..]
        && last.right > end
    {
        let top = before.top.min(last.top);
        let bottom = before.bottom.max(last.bottom);
        *before = Column { left: before.left, right: end, top, bottom };
        columns.pop();
    }
    columns
}

/// Whether two pieces meet. They may miss by one grid unit, where rounding put the
/// end of one and the start of the next on two sides of a line of the grid.
fn meets(end: BackendCoord, start: BackendCoord) -> bool {
    end.0 == start.0 && (end.1 - start.1).abs() <= 1
}

fn thin(line: &[BackendCoord]) -> Vec<BackendCoord> {
    let mut kept: Vec<BackendCoord> = Vec::new();
    for column in line.chunk_by(|a, b| a.0.div_euclid(GRID) == b.0.div_euclid(GRID)) {
        let indices = 0..column.len();
        let lowest = indices.clone().min_by_key(|&i| column[i].1).unwrap_or(0);
        let highest = indices.max_by_key(|&i| column[i].1).unwrap_or(0);
        let mut chosen = [0, lowest, highest, column.len() - 1];
        chosen.sort_unstable();
        for i in chosen {
            if kept.last() != Some(&column[i]) {
                kept.push(column[i]);
            }
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_jump_is_drawn_upright_and_never_as_a_slope() {
        let drawn = strokes(&[vec![(0, 0), (100, 50)], vec![(100, 10), (200, 0)]]);
        let expected = [
            Stroke::Jump((100, 50), (100, 10)),
            Stroke::Line(vec![(0, 0), (100, 50)]),
            Stroke::Line(vec![(100, 10), (200, 0)]),
        ];
        assert_eq!(drawn, expected);
    }

    #[test]
    fn pieces_that_meet_become_one_line_and_pieces_apart_leave_a_gap() {
        let drawn = strokes(&[
            vec![(0, 0), (100, 50)],
            vec![(100, 50), (200, 0)],
            vec![(300, 0), (400, 0)],
        ]);
        let expected = [
            Stroke::Line(vec![(0, 0), (100, 50), (200, 0)]),
            Stroke::Line(vec![(300, 0), (400, 0)]),
        ];
        assert_eq!(drawn, expected);
    }

    #[test]
    fn thinning_keeps_every_extreme() {
        let line: Vec<BackendCoord> = (0..4000).map(|i| (i / 40, (i * 7919) % 1013)).collect();
        let kept = thin(&line);
        assert!(kept.len() <= 4 * 6);
        for column in 0..5 {
            let range = |points: &[BackendCoord]| {
                let ys = points.iter().filter(|p| p.0.div_euclid(GRID) == column);
                let ys: Vec<i32> = ys.map(|p| p.1).collect();
                (ys.iter().min().copied(), ys.iter().max().copied())
            };
            assert_eq!(range(&kept), range(&line));
        }
    }

    #[test]
    fn a_band_holds_every_value_of_its_columns() {
        let zigzag: Vec<BackendCoord> = (0..=40).map(|i| (i * 5, (i % 2) * 100)).collect();
        let band = columns(&[zigzag], 0, 20);
        assert_eq!(band.len(), 10);
        assert!(band.iter().all(|c| (c.top, c.bottom) == (0, 100)), "{band:?}");
        let slope = columns(&[vec![(10, 0), (130, 60)]], 10, 40);
        let extents: Vec<(i32, i32)> = slope.iter().map(|c| (c.top, c.bottom)).collect();
        assert_eq!(extents, [(0, 20), (20, 40), (40, 60)]);
    }

    #[test]
    fn clipping_cuts_exactly_at_the_window() {
        let whole = [vec![(0.0, 0.0), (2.0, 20.0)], vec![(2.0, 5.0), (4.0, 1.0)]];
        let cut = clip(&whole, 1.0, 3.0);
        assert_eq!(cut, [vec![(1.0, 10.0), (2.0, 20.0)], vec![(2.0, 5.0), (3.0, 3.0)]]);
    }
}
