//! What is shown on a picture beside the circuit itself: plain data, made by whoever knows of readings and suspects.

use circuit::{BranchId, PartId, PointId};

/// Everything marked on a picture.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Marks {
    /// Readings, each at the point where it was taken.
    pub flags: Vec<Flag>,
    /// Places under suspicion.
    pub suspicions: Vec<Suspicion>,
    /// What to measure next.
    pub next: Option<Next>,
    /// Where the leads are.
    pub chosen: Chosen,
}

/// A reading where it was taken.
#[derive(Clone, Debug, PartialEq)]
pub struct Flag {
    /// The point.
    pub point: PointId,
    /// The reading: "10.4 V".
    pub big: String,
    /// Beneath it, what should be there: "should be 0.0 V"; may be empty.
    pub small: String,
    /// How it stands to what should be there.
    pub tone: Tone,
}

/// How a reading stands to what should be there.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Tone {
    /// As it should be, or telling nothing.
    #[default]
    Plain,
    /// Not what should be there.
    Off,
}

/// A place under suspicion, drawn as hatching.
#[derive(Clone, Debug, PartialEq)]
pub struct Suspicion {
    /// Where.
    pub place: SuspectPlace,
    /// How strong, 0 to 1: density of the hatching. Not a number counts as 0.
    pub strength: f64,
    /// In words, shown on hover and read aloud; up to eight characters ("57 %") are also drawn if there is room.
    pub label: String,
}

/// What a suspicion points at.
#[derive(Clone, Debug, PartialEq)]
pub enum SuspectPlace {
    /// These points, together where they lie above each other.
    Points(Vec<PointId>),
    /// These branches: a contact, a wire, a part of a device; two wires side by side are hatched together.
    Branches(Vec<BranchId>),
    /// A whole part.
    Part(PartId),
}

/// The next thing to do, in the accent colour.
#[derive(Clone, Debug, PartialEq)]
pub struct Next {
    /// Points to measure at.
    pub points: Vec<PointId>,
    /// In words: "measure here next".
    pub label: String,
}

/// Where the leads are.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Chosen {
    /// Red lead.
    pub red: Option<PointId>,
    /// Black lead.
    pub black: Option<PointId>,
}

/// How a picture is to look.
#[derive(Clone, Debug, PartialEq)]
pub struct Look {
    /// The picture is widened to fill this many pixels; it may be wider. Not a number or negative counts as 0.
    pub fill_width: f64,
    /// Colours can be changed by custom properties (`--ink`, `--paper` …; see [`crate::STYLE`]). Without it, plain
    /// attributes only, for programs that read no style sheets.
    pub themed: bool,
    /// Paint the paper behind the picture.
    pub background: bool,
    /// Put before every id inside, so that several pictures can stand on one page: letters, digits and `-`; others
    /// are left out.
    pub id_prefix: String,
}

impl Default for Look {
    fn default() -> Self {
        Self {
            fill_width: 0.0,
            themed: true,
            background: true,
            id_prefix: "pw".to_owned(),
        }
    }
}
