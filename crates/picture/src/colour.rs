//! Wire colours: names in plain English to colours on paper.

/// What a colour name that is not known is drawn in: its name stands beside the wire.
const UNKNOWN: &str = "#9a9a94";

/// The colour of a name, light and dark shades included; grey for a name that is not known.
///
/// The shades are our own choice: far enough apart to be told apart in sunlight, none pure.
pub(crate) fn hex(name: &str) -> &'static str {
    let name = name.trim().to_lowercase().replace(['-', '_'], " ");
    match name.as_str() {
        "black" => "#26282b",
        "white" => "#f7f7f3",
        "red" => "#c0303a",
        "dark red" | "maroon" => "#7d1f2a",
        "blue" => "#2b63b5",
        "light blue" | "sky blue" => "#76b3e2",
        "dark blue" => "#1d3a75",
        "green" => "#2f7d4f",
        "light green" | "lime" => "#86c56a",
        "dark green" => "#1e5134",
        "yellow" => "#f0d040",
        "orange" => "#e2812b",
        "brown" => "#7a4a26",
        "light brown" | "tan" => "#c09a6b",
        "violet" | "purple" | "lilac" => "#7b4aa8",
        "grey" | "gray" => "#8f9297",
        "light grey" | "light gray" | "silver" => "#c4c7ca",
        "dark grey" | "dark gray" => "#595c61",
        "pink" | "rose" => "#e58fa8",
        "beige" | "cream" | "ivory" | "natural" => "#e8d9a0",
        "turquoise" | "teal" => "#2fa3a0",
        "clear" | "bare" | "copper" => "#c98a5a",
        "gold" => "#c9a43a",
        _ => UNKNOWN,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_read_as_people_write_them() {
        assert_eq!(hex("Light-Blue"), hex("light blue"));
        assert_eq!(hex(" gray "), hex("grey"));
        assert_eq!(hex("<script>"), UNKNOWN);
        assert_ne!(hex("white"), hex("cream"));
    }
}
