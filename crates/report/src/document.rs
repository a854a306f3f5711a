//! What is said, before anybody thinks of pages.

/// A document.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Document {
    /// Title, printed large and kept in the file's properties.
    pub title: String,
    /// A line below it; may be empty.
    pub subtitle: String,
    /// Language as a tag: `en`.
    pub language: String,
    /// What follows, in order.
    pub blocks: Vec<Block>,
}

/// A piece of a document. Texts are plain: nothing in them is markup.
#[derive(Clone, Debug, PartialEq)]
pub enum Block {
    /// A heading of its own section.
    Heading(String),
    /// A heading within a section.
    Subheading(String),
    /// A paragraph.
    Paragraph(String),
    /// Points, one below the other.
    List(Vec<String>),
    /// Names with what is to be said of each.
    Facts(Vec<(String, String)>),
    /// Rows under a header.
    Table(Table),
    /// A picture.
    Figure(Figure),
    /// What must not be overlooked: what it is, then a paragraph each.
    Callout(String, Vec<String>),
}

/// Rows under a header that every page repeats.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Table {
    /// One name a column.
    pub header: Vec<String>,
    /// How wide the columns are to each other; those left out count as 1.
    pub shares: Vec<f32>,
    /// As many cells a row as there are columns; missing ones are empty.
    pub rows: Vec<Vec<String>>,
}

/// A picture with words for those who do not see it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Figure {
    /// A whole SVG document with plain attributes: no script, no style sheet, no link.
    pub svg: String,
    /// What it shows, printed below.
    pub caption: String,
    /// What one would see, for readers aloud.
    pub alternative: String,
}
