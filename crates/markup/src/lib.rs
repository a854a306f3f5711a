//! Texts into markup: what was typed never becomes a part of it. The one place for that, of pictures and of documents.

/// Text for XML or HTML, between tags or within quotes: what either gives a meaning is escaped, a line's end becomes a
/// blank, and what XML forbids is left out.
///
/// ```
/// assert_eq!(markup::escaped("a<b>&\"'\u{0}\u{1b}\u{ffff}\n"), "a&lt;b&gt;&amp;&quot;&#39; ");
/// ```
///
/// # Source
/// Extensible Markup Language 1.0, fifth edition, 2.2 (characters) and 4.6 (predefined entities).
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            // HTML 4 knows no `&apos;`.
            '\'' => out.push_str("&#39;"),
            '\n' | '\r' | '\t' => out.push(' '),
            letter if letter.is_control() || matches!(letter, '\u{fffe}' | '\u{ffff}') => {}
            letter => out.push(letter),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_markup_gives_a_meaning_is_escaped_and_what_it_forbids_is_gone() {
        assert_eq!(escaped("a<b>&\"'\u{0}\u{1b}\u{ffff}"), "a&lt;b&gt;&amp;&quot;&#39;");
        assert_eq!(escaped("one\ntwo\tµΩ"), "one two µΩ");
    }
}
