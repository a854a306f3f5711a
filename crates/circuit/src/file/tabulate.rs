//! From a law over the sensed value to the few rows that carry it.

/// Rows on an even grid before the superfluous ones are dropped.
const GRID: i32 = 512;

/// How far beyond the sensed range a law is tabulated, as a part of the range: a drifted sensor sees more than there is.
const BEYOND: f64 = 0.1;

/// Relative error that leaving out rows may add to a law: far below any tolerance.
const ERROR: f64 = 1e-4;

/// Rows of `law`, and whether their logarithm is to be interpolated: whichever takes fewer rows. `corners` are sensed
/// values where the law may bend. Outside the range, values that are not finite are left out.
pub(crate) fn tabulate(
    (least, most): (f64, f64),
    corners: &[f64],
    law: &dyn Fn(f64) -> f64,
) -> (Vec<(f64, f64)>, bool) {
    let margin = (most - least) * BEYOND;
    let step = (most - least) / f64::from(GRID);
    let beyond = (BEYOND * f64::from(GRID)) as i32;
    let grid = (-beyond..=GRID + beyond).map(|n| least + step * f64::from(n));
    let inside = |x: &f64| (least - margin..=most + margin).contains(x);
    let mut xs: Vec<f64> = grid
        .chain([least, most])
        .chain(corners.iter().copied().filter(inside))
        .collect();
    xs.sort_by(f64::total_cmp);
    xs.dedup();
    let rows = xs.into_iter().map(|x| (x, law(x)));
    let rows: Vec<_> = rows
        .filter(|(x, y)| y.is_finite() || (least..=most).contains(x))
        .collect();
    let scale = rows.iter().map(|row| row.1.abs()).fold(f64::MIN_POSITIVE, f64::max);
    // What cannot be negative may span decades: then each row counts for itself.
    let positive = rows.iter().all(|row| row.1 > 0.0 && row.1.is_finite());
    let close = |row: f64, line: f64| (row - line).abs() <= ERROR * if positive { row } else { scale };
    let linear = thinned(&rows, &close);
    if positive {
        let logs: Vec<_> = rows.iter().map(|(x, y)| (*x, y.ln())).collect();
        let logarithmic = thinned(&logs, &|row, line| (row - line).abs() <= ERROR);
        if logarithmic.len() < linear.len() {
            return (logarithmic.iter().map(|at| rows[*at]).collect(), true);
        }
    }
    (linear.iter().map(|at| rows[*at]).collect(), false)
}

/// Positions of the rows between which the others lie on a line, as `close` judges (Ramer 1972, Douglas and Peucker 1973).
fn thinned(rows: &[(f64, f64)], close: &dyn Fn(f64, f64) -> bool) -> Vec<usize> {
    let Some(last) = rows.len().checked_sub(1) else {
        return Vec::new();
    };
    let mut kept = vec![0, last];
    let mut open = vec![(0, last)];
    while let Some((from, to)) = open.pop() {
        let ((x0, y0), (x1, y1)) = (rows[from], rows[to]);
        let line = |x: f64| y0 + (y1 - y0) * (x - x0) / (x1 - x0);
        let between = rows[from..to].iter().enumerate().skip(1);
        let worst = between
            .filter(|(_, (x, y))| !close(*y, line(*x)))
            .max_by(|a, b| (a.1.1 - line(a.1.0)).abs().total_cmp(&(b.1.1 - line(b.1.0)).abs()));
        if let Some((offset, _)) = worst {
            kept.push(from + offset);
            open.extend([(from, from + offset), (from + offset, to)]);
        }
    }
    kept.sort_unstable();
    kept.dedup();
    kept
}

/// The value at `x` of rows sorted by their first column: held outside. Between, on a logarithmic scale if the rows are
/// positive and span more than a decade, as a thermistor's do, and else on a straight line. NaN without rows.
pub(crate) fn interpolate(rows: &[(f64, f64)], x: f64) -> f64 {
    let least = rows.iter().map(|row| row.1).fold(f64::INFINITY, f64::min);
    let most = rows.iter().map(|row| row.1).fold(0.0, f64::max);
    let logarithmic = least > 0.0 && most > 10.0 * least;
    let after = rows.partition_point(|row| row.0 <= x);
    match (
        after.checked_sub(1).and_then(|before| rows.get(before)),
        rows.get(after),
    ) {
        (Some((x0, y0)), Some((x1, y1))) => {
            let part = (x - x0) / (x1 - x0);
            if logarithmic {
                y0 * (y1 / y0).powf(part)
            } else {
                y0 + (y1 - y0) * part
            }
        }
        (Some((_, y)), None) | (None, Some((_, y))) => *y,
        (None, None) => f64::NAN,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_law_needs_two_rows() {
        let (rows, logarithmic) = tabulate((0.0, 32.0), &[], &|x| 0.1 + 0.8 * x / 32.0);
        assert_eq!((rows.len(), logarithmic), (2, false));
    }

    #[test]
    fn a_thermistor_is_carried_far_below_its_tolerance() {
        // R25 10 kΩ, B 3700 K: the two-point law itself.
        let law = |t: f64| 10e3 * (3700.0 * (1.0 / (t + 273.15) - 1.0 / 298.15)).exp();
        let (rows, logarithmic) = tabulate((-40.0, 150.0), &[], &law);
        assert!(logarithmic && rows.len() < 200, "{} rows", rows.len());
        for tenth in -400..1500 {
            let t = f64::from(tenth) / 10.0;
            let part = interpolate(&rows, t) / law(t) - 1.0;
            assert!(part.abs() < 1.2e-4, "{t} °C: off by {part}");
        }
    }

    #[test]
    fn a_law_that_ends_at_the_range_is_not_carried_beyond() {
        let (rows, _) = tabulate((0.0, 1.0), &[], &f64::sqrt);
        assert_eq!(rows[0], (0.0, 0.0));
        assert!(rows.iter().all(|row| row.1.is_finite()));
    }
}
