//! What the page is told, as JSON. Nothing below this crate is serialised: the model may change, these shapes may not
//! without a new `/api/v2`.
//!
//! Every text is already in plain words and every figure already rounded as a meter shows it; numbers are given only where
//! the page draws with them (chances as 0 to 1, minutes, milliseconds since 1970).

use std::collections::BTreeMap;

use job::About;
use serde::{Deserialize, Serialize};

use crate::intake::VinView;
use crate::shop::ShopView;

/// What does not change while the job is open: the circuit's vocabulary.
#[derive(Debug, Serialize)]
pub(crate) struct JobView {
    pub(crate) title: String,
    pub(crate) complaint: String,
    /// The vehicle's identification number, where it was typed.
    pub(crate) vin: Option<VinView>,
    /// What to beware of before anything is touched.
    pub(crate) cautions: Vec<String>,
    pub(crate) circuit: String,
    pub(crate) vehicle: String,
    /// The text form of the usual set-up.
    pub(crate) normal: String,
    pub(crate) keys: Vec<Choice>,
    pub(crate) connectors: Vec<Choice>,
    pub(crate) loads: Vec<Choice>,
    pub(crate) fuses: Vec<Choice>,
    pub(crate) relays: Vec<Choice>,
    pub(crate) accessories: Vec<Choice>,
    pub(crate) battery: Vec<Choice>,
    pub(crate) sensed: Vec<SensedView>,
    /// Parts that something may be done to.
    pub(crate) parts: Vec<PartView>,
    /// What may be done to a part while a reading is taken.
    pub(crate) provocations: Vec<AnswerChoice>,
    pub(crate) points: Vec<PointView>,
    pub(crate) instruments: Vec<InstrumentView>,
}

/// One thing that a set-up may say.
#[derive(Debug, Serialize)]
pub(crate) struct Choice {
    /// Id in the circuit file.
    pub(crate) id: String,
    /// Its clause of a set-up's text form: `S1 apart`.
    pub(crate) clause: String,
    /// The clause in words: "sensor plug apart".
    pub(crate) words: String,
    /// The words while the set-up does not say it: "sensor plug together".
    pub(crate) otherwise: String,
    /// What to mind, if anything.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) caution: Option<String>,
}

/// A part that something may be done to.
#[derive(Debug, Serialize)]
pub(crate) struct PartView {
    pub(crate) id: String,
    pub(crate) words: String,
    /// `connector`, `wire`, or `part` for what can be put in anew.
    pub(crate) kind: &'static str,
}

/// A quantity that a set-up may give a value.
#[derive(Debug, Serialize)]
pub(crate) struct SensedView {
    pub(crate) id: String,
    pub(crate) words: String,
    pub(crate) unit: String,
    pub(crate) low: f64,
    pub(crate) high: f64,
    pub(crate) usual: f64,
    /// The same by the clause of a key position that has another: `key cranking`.
    pub(crate) at_key: BTreeMap<String, f64>,
}

/// A point that a probe may reach in some set-up.
#[derive(Debug, Serialize)]
pub(crate) struct PointView {
    pub(crate) path: String,
    pub(crate) words: String,
}

/// A place of an instrument that is not held to points: a channel, a code, a wire.
#[derive(Debug, Serialize)]
pub(crate) struct PlaceView {
    pub(crate) path: String,
    pub(crate) words: String,
    /// Unit of its number, where the place has one of its own.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) unit: Option<String>,
}

/// Something that an instrument shows other than a number.
#[derive(Debug, Serialize)]
pub(crate) struct AnswerChoice {
    /// As a reading's text form has it.
    pub(crate) text: &'static str,
    pub(crate) words: &'static str,
}

/// An instrument and what may be typed from it.
#[derive(Debug, Serialize)]
pub(crate) struct InstrumentView {
    /// First word of a test's text form.
    pub(crate) id: &'static str,
    pub(crate) words: &'static str,
    /// What its first place is called (red lead, tip), and its second if it has one.
    pub(crate) leads: Vec<&'static str>,
    /// Units on its display; empty if it shows no number or its place says the unit.
    pub(crate) units: Vec<&'static str>,
    pub(crate) answers: Vec<AnswerChoice>,
    /// For one that is not held to points: its places.
    pub(crate) places: Vec<PlaceView>,
}

/// What is known now.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct AnswerView {
    /// Number of events that this answer rests on.
    pub(crate) version: u64,
    /// Number of events in the job. Above `version`: this answer is older than the last reading.
    pub(crate) latest: u64,
    /// Suspects are there, proposals still being computed.
    pub(crate) proposals_pending: bool,
    /// More is to come for this version, if only which suspects no test tells apart.
    pub(crate) working: bool,
    /// What went wrong in the reasoning, if it did; then the rest is empty.
    pub(crate) failure: Option<String>,
    /// How the vehicle stands, as far as events tell: the text form. Proposals start from it.
    pub(crate) set_up: String,
    /// Where the job stands: `open`, `parts`, `customer`, `proven`.
    pub(crate) standing: &'static str,
    pub(crate) intake: IntakeView,
    pub(crate) readings: Vec<ReadingView>,
    /// Readings of a sound vehicle of the same kind.
    pub(crate) twin: Vec<ReadingView>,
    /// What was done and looked at, in order.
    pub(crate) acts: Vec<ActView>,
    pub(crate) undo: Option<Step>,
    pub(crate) redo: Option<Step>,
    pub(crate) suspects: Vec<SuspectView>,
    pub(crate) others: Option<OthersView>,
    pub(crate) next: Vec<ProposalView>,
    pub(crate) conclusion: ConclusionView,
    /// What the job comes to; not while proposals are still being computed.
    pub(crate) bill: Option<BillView>,
    /// How many tests the proposals were chosen from; empty while they are still being computed.
    pub(crate) chosen_from: String,
    /// What several codes hang on together.
    pub(crate) codes_share: Option<String>,
    /// What to check about the picture, what was learnt of modules, whether pairs of faults were tried.
    pub(crate) notes: Vec<String>,
    /// A repair was noted: `GET proof` has it on trial.
    pub(crate) repaired: bool,
    pub(crate) troubles: Vec<String>,
    /// First to last event, minutes.
    pub(crate) minutes: f64,
    /// The shop's solved jobs, as they are now.
    pub(crate) shop: Option<ShopView>,
}

/// What the customer and the vehicle's past say. An intake event says anew all that moves suspicion, and the limit; the rest is
/// told one by one.
#[derive(Clone, Debug, Default, Serialize)]
pub(crate) struct IntakeView {
    pub(crate) complaint: String,
    /// What was told in words, by what it is about.
    pub(crate) told: BTreeMap<About, String>,
    pub(crate) photos: Vec<PhotoView>,
    /// Where suspicion starts: what each thing that was said does before any reading.
    pub(crate) starts: Vec<StartView>,
    pub(crate) replaced: Vec<String>,
    pub(crate) disturbed: Vec<String>,
    pub(crate) accessories: Vec<String>,
    pub(crate) water: bool,
    pub(crate) accident: bool,
    pub(crate) comes_and_goes: Option<bool>,
    /// What the customer has agreed to, in the shop's money.
    pub(crate) authorised: Option<f64>,
}

/// What one thing that was said does before any reading.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct StartView {
    /// `replaced`, `disturbed`, `accessories`, `water`, `accident`.
    pub(crate) about: &'static str,
    /// Id of the part, where it is about one.
    pub(crate) part: Option<String>,
    pub(crate) words: String,
}

/// A photo.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct PhotoView {
    pub(crate) event: String,
    pub(crate) at_ms: u64,
    pub(crate) file: String,
    pub(crate) words: String,
}

/// What the job comes to.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct BillView {
    pub(crate) words: String,
    /// More is expected than was agreed to.
    pub(crate) ask_first: bool,
}

/// Something that was done.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct ActView {
    pub(crate) event: String,
    pub(crate) at_ms: u64,
    pub(crate) words: String,
}

/// An event that undo or redo would take back.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct Step {
    pub(crate) event: String,
    pub(crate) words: String,
}

/// A reading and how it stands.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct ReadingView {
    pub(crate) event: String,
    pub(crate) at_ms: u64,
    /// Instrument and place in words.
    pub(crate) what: String,
    pub(crate) set_up: String,
    pub(crate) set_up_words: String,
    /// What of it is not as usual; all of it if nothing is.
    pub(crate) set_up_short: String,
    pub(crate) test: String,
    pub(crate) shown: String,
    /// Of a code: when it was seen, in whatever words; else empty.
    pub(crate) seen: String,
    /// "should be 5.0 V", "as it should be", "tells nothing yet".
    pub(crate) verdict: String,
    /// `odd`, `fits`, `nothing`, `doubtful`.
    pub(crate) standing: &'static str,
}

/// A suspect.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct SuspectView {
    /// Stable name of the fault; empty for "something not in this picture".
    pub(crate) fault: String,
    pub(crate) what: String,
    /// A second fault at the same time, in words; empty if there is none.
    pub(crate) also: String,
    pub(crate) place: String,
    /// More of the place, where there is more.
    pub(crate) exactly: String,
    /// Chance with its look-alikes.
    pub(crate) chance: f64,
    pub(crate) percent: String,
    /// It most likely comes and goes.
    pub(crate) comes_and_goes: bool,
    /// Chance of this one alone, in words.
    pub(crate) alone: String,
    pub(crate) repair: String,
    pub(crate) cost: String,
    pub(crate) look_alikes: Vec<LookAlikeView>,
    /// How often the like was the cause in this shop, and what that does; empty if nothing.
    pub(crate) seen: String,
    /// What was said of the vehicle that makes it more or less likely before any reading; empty if nothing.
    pub(crate) said: Vec<String>,
    pub(crate) why: Vec<WhyView>,
}

/// A fault that no available test tells from its suspect.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct LookAlikeView {
    pub(crate) fault: String,
    pub(crate) what: String,
    pub(crate) place: String,
    /// What sets it apart from its suspect, in a few words: the parts if they are others, else what is wrong.
    pub(crate) brief: String,
    pub(crate) chance: f64,
    pub(crate) percent: String,
}

/// What one reading says of a suspect.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct WhyView {
    pub(crate) event: String,
    /// -2 strongly against … 2 strongly for.
    pub(crate) leaning: i8,
    pub(crate) words: String,
}

/// Suspects too unlikely to list.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct OthersView {
    pub(crate) words: String,
    pub(crate) each: String,
    pub(crate) chance: f64,
    pub(crate) percent: String,
    /// The most likely of them.
    pub(crate) some: Vec<LookAlikeView>,
}

/// A proposed step.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct ProposalView {
    pub(crate) title: String,
    /// What to do first, in order; empty if the vehicle stands right.
    pub(crate) how: Vec<String>,
    pub(crate) minutes: String,
    pub(crate) set_up: String,
    pub(crate) tests: Vec<TestView>,
    pub(crate) outcomes: Vec<OutcomeView>,
    pub(crate) safety: SafetyView,
}

/// A test to do.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct TestView {
    pub(crate) test: String,
    pub(crate) words: String,
    /// Id of the instrument.
    pub(crate) instrument: &'static str,
    /// Its places, first lead first.
    pub(crate) places: Vec<String>,
}

/// What a proposal may show, and what it would mean.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct OutcomeView {
    pub(crate) shows: String,
    pub(crate) means: String,
    pub(crate) chance: f64,
    pub(crate) percent: String,
}

/// Whether something may be done, and what to mind.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct SafetyView {
    /// `safe`, `first`, `refused`.
    pub(crate) verdict: &'static str,
    pub(crate) headline: String,
    /// Figures behind it, worst first.
    pub(crate) lines: Vec<String>,
    /// Safe readings that would settle it.
    pub(crate) first: Vec<FirstView>,
    /// What to mind in any case.
    pub(crate) cautions: Vec<String>,
}

/// A safe reading to take before.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct FirstView {
    pub(crate) set_up: String,
    pub(crate) test: TestView,
    pub(crate) words: String,
}

/// The judgement of an intended test.
#[derive(Debug, Serialize)]
pub(crate) struct JudgeView {
    /// The test in words.
    pub(crate) words: String,
    pub(crate) set_up_words: String,
    pub(crate) safety: SafetyView,
    /// It can tell something.
    pub(crate) tells: bool,
    pub(crate) worth: String,
    /// What it may show and what that would mean; empty where it tells nothing.
    pub(crate) outcomes: Vec<OutcomeView>,
    /// What a circuit in order would show.
    pub(crate) healthy: Option<String>,
    /// What of the set-up has no effect.
    pub(crate) remarks: Vec<String>,
    pub(crate) version: u64,
}

/// Whether to go on.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct ConclusionView {
    /// `open`, `found`, `outside`, `repair first`, `cannot tell`.
    pub(crate) kind: &'static str,
    pub(crate) words: String,
}

/// What every point in reach would read, against battery negative, and every scan value.
#[derive(Debug, Serialize)]
pub(crate) struct ExpectsView {
    /// Under what: a fault in words, or "everything in order".
    pub(crate) under: String,
    /// What of the set-up has no effect.
    pub(crate) remarks: Vec<String>,
    pub(crate) rows: Vec<ExpectRow>,
}

/// One place and what it would read.
#[derive(Debug, Serialize)]
pub(crate) struct ExpectRow {
    /// Path of the point; empty for a scan value.
    pub(crate) point: String,
    pub(crate) words: String,
    pub(crate) shows: String,
    pub(crate) in_order: String,
    /// The two differ by more than a meter's error.
    pub(crate) differs: bool,
}

/// The wiring picture with the places that can be tapped.
#[derive(Debug, Serialize)]
pub(crate) struct PictureView {
    pub(crate) svg: String,
    pub(crate) width: f64,
    pub(crate) height: f64,
    /// Where to look where not all of it can be seen: x and y.
    pub(crate) focus: (f64, f64),
    pub(crate) spots: Vec<SpotView>,
}

/// A terminal on the picture.
#[derive(Debug, Serialize)]
pub(crate) struct SpotView {
    pub(crate) point: String,
    pub(crate) words: String,
    pub(crate) x: f64,
    pub(crate) y: f64,
    /// A probe reaches it in this set-up.
    pub(crate) reachable: bool,
    /// If not: why, and what to do.
    pub(crate) why: String,
}

/// A photo was kept.
#[derive(Debug, Serialize)]
pub(crate) struct PhotoKept {
    /// The name that a `photo` event gives.
    pub(crate) file: String,
}

/// An event was taken in.
#[derive(Debug, Serialize)]
pub(crate) struct Noted {
    /// Number of events in the job.
    pub(crate) latest: u64,
    /// False if this id was here already.
    pub(crate) added: bool,
}

/// A set-up that is asked about.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct SetUpQuery {
    #[serde(default)]
    pub(crate) set_up: String,
    /// A suspect's stable name, to mark or to predict under.
    #[serde(default)]
    pub(crate) suspect: String,
    /// Severity of it in its unit; the plausible one if left out.
    pub(crate) severity: Option<f64>,
}

/// A staircase that is asked for.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct StairsQuery {
    #[serde(default)]
    pub(crate) set_up: String,
    #[serde(default)]
    pub(crate) suspect: String,
    /// A point on the path; where to measure next, or the last reading's place, if left out.
    #[serde(default)]
    pub(crate) at: String,
    /// Pixels to fill, at least.
    pub(crate) width: Option<f64>,
    /// Pixels of height.
    pub(crate) height: Option<f64>,
    /// Stand under a picture of this width, each place under its point.
    #[serde(default)]
    pub(crate) under: bool,
}

/// A picture that is asked for.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct PictureQuery {
    #[serde(default)]
    pub(crate) set_up: String,
    #[serde(default)]
    pub(crate) suspect: String,
    /// Where the leads are.
    #[serde(default)]
    pub(crate) red: String,
    #[serde(default)]
    pub(crate) black: String,
    /// Pixels to fill, at least.
    pub(crate) width: Option<f64>,
}

/// A test that is intended.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct JudgeQuery {
    #[serde(default)]
    pub(crate) set_up: String,
    pub(crate) test: String,
}

/// The voltage staircase.
#[derive(Debug, Serialize)]
pub(crate) struct StaircaseView {
    pub(crate) svg: String,
}
