//! The built-in tables: CSV with comments.

/// Data rows of a built-in table: comments and the header left out.
pub(crate) fn rows(text: &'static str) -> impl Iterator<Item = csv::StringRecord> {
    csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(text.as_bytes())
        .into_records()
        .filter_map(Result::ok)
}
