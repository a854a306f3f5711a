//! What came out, drawn as SVG: the reliability curve, the ranks, and what each strategy costs.

use std::fmt::Write as _;

use crate::calibration::Calibration;
use crate::figures::Figures;

/// Size of a drawing and the margin around its axes, px.
const WIDTH: f64 = 640.0;
const HEIGHT: f64 = 420.0;
const MARGIN: f64 = 60.0;

/// A drawing with axes from 0 to 1 across, and from 0 to `most` up.
struct Sheet {
    svg: String,
    most: f64,
}

impl Sheet {
    fn new(title: &str, across: &str, up: &str, most: f64) -> Self {
        let mut svg = String::new();
        let (right, bottom) = (WIDTH - MARGIN, HEIGHT - MARGIN);
        let middle = HEIGHT / 2.0;
        let _ = write!(
            svg,
            r##"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" font-family="sans-serif" font-size="13">
<rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/>
<text x="{MARGIN}" y="30" font-size="16">{title}</text>
<path d="M{MARGIN} {MARGIN}V{bottom}H{right}" fill="none" stroke="#444"/>
<text x="{right}" y="{}" text-anchor="end">{across}</text>
<text transform="translate(16 {middle}) rotate(-90)" text-anchor="middle">{up}</text>
"##,
            HEIGHT - 14.0,
        );
        let mut sheet = Self { svg, most };
        for part in [0.0, 0.25, 0.5, 0.75, 1.0] {
            let y = sheet.y(part * most);
            let label = number(part * most);
            sheet.text(MARGIN - 6.0, y + 4.0, "end", &label);
            sheet.line((MARGIN, y), (right, y), "#ddd");
        }
        sheet
    }

    fn y(&self, value: f64) -> f64 {
        HEIGHT - MARGIN - value / self.most * (HEIGHT - 2.0 * MARGIN)
    }

    fn text(&mut self, x: f64, y: f64, anchor: &str, text: &str) {
        let _ = writeln!(
            self.svg,
            r#"<text x="{x:.1}" y="{y:.1}" text-anchor="{anchor}">{text}</text>"#
        );
    }

    fn line(&mut self, from: (f64, f64), to: (f64, f64), colour: &str) {
        let _ = writeln!(
            self.svg,
            r#"<path d="M{:.1} {:.1}L{:.1} {:.1}" stroke="{colour}" stroke-width="1.5"/>"#,
            from.0, from.1, to.0, to.1
        );
    }

    fn dot(&mut self, x: f64, y: f64) {
        let _ = writeln!(self.svg, r##"<circle cx="{x:.1}" cy="{y:.1}" r="4" fill="#1b6ca8"/>"##);
    }

    /// A bar from the bottom, between two parts of the way across.
    fn bar(&mut self, from: f64, to: f64, value: f64) {
        let (left, right, top) = (x(from), x(to), self.y(value));
        let _ = writeln!(
            self.svg,
            r##"<rect x="{left:.1}" y="{top:.1}" width="{:.1}" height="{:.1}" fill="#1b6ca8"/>"##,
            right - left - 4.0,
            (self.y(0.0) - top).max(0.0),
        );
    }

    fn done(mut self) -> String {
        self.svg += "</svg>\n";
        self.svg
    }
}

/// Place of a part of the way across, 0 to 1.
fn x(part: f64) -> f64 {
    MARGIN + part * (WIDTH - 2.0 * MARGIN)
}

fn number(value: f64) -> String {
    if value >= 10.0 {
        format!("{value:.0}")
    } else {
        format!("{value:.2}")
    }
}

/// The share right by the chance stated, with intervals; on the line they agree.
pub fn reliability(calibration: &Calibration) -> String {
    let mut sheet = Sheet::new("Chance stated and share right", "chance stated", "share right", 1.0);
    sheet.line((x(0.0), sheet.y(0.0)), (x(1.0), sheet.y(1.0)), "#999");
    for part in [0.0, 0.25, 0.5, 0.75, 1.0] {
        let y = sheet.y(0.0);
        sheet.text(x(part), y + 18.0, "middle", &number(part));
    }
    for bin in &calibration.bins {
        let at = x(bin.stated);
        sheet.line((at, sheet.y(bin.interval.0)), (at, sheet.y(bin.interval.1)), "#1b6ca8");
        sheet.dot(at, sheet.y(bin.right));
    }
    sheet.done()
}

/// How often true values lay in each tenth of what was learnt, against the line where all should be.
pub fn ranks(calibration: &Calibration) -> String {
    tenths(
        "Where true values lie within what was learnt",
        "tenth of what was thought",
        calibration.value_cells,
    )
}

/// The same of true causes within the belief, causes in the order of the list.
pub fn cause_ranks(calibration: &Calibration) -> String {
    tenths(
        "Where true causes lie within what was believed",
        "tenth of the belief, in the order of the list",
        calibration.cause_cells,
    )
}

fn tenths(title: &str, across: &str, cells: [usize; 10]) -> String {
    let total = cells.iter().sum::<usize>().max(1) as f64;
    let shares = cells.map(|count| 10.0 * count as f64 / total);
    let most = shares.iter().copied().fold(2.0, f64::max);
    let mut sheet = Sheet::new(title, across, "times as often as it should be", most);
    for (cell, share) in shares.into_iter().enumerate() {
        sheet.bar(cell as f64 / 10.0, (cell + 1) as f64 / 10.0, share);
    }
    sheet.line((x(0.0), sheet.y(1.0)), (x(1.0), sheet.y(1.0)), "#c33");
    sheet.done()
}

/// Mean cost to proven repair of each strategy, by name.
pub fn costs(strategies: &[(&str, Figures)]) -> String {
    let most = strategies.iter().map(|(_, figures)| figures.cost).fold(1.0, f64::max);
    let mut sheet = Sheet::new("Mean cost until proven repaired", "", "shop's money", most);
    let n = strategies.len().max(1) as f64;
    for (at, (name, figures)) in strategies.iter().enumerate() {
        let (from, to) = (at as f64 / n, (at + 1) as f64 / n);
        sheet.bar(from, to, figures.cost);
        let (middle, y) = (x(0.5 * (from + to)), sheet.y(0.0));
        sheet.text(middle, y + 18.0, "middle", name);
        let top = sheet.y(figures.cost);
        sheet.text(middle, top - 5.0, "middle", &number(figures.cost));
    }
    sheet.done()
}
