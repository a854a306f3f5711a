//! Events: what happened in a job, in the words of the text forms, so that an old job opens after the circuit changed.

use serde::{Deserialize, Serialize};

use crate::standing::Awaited;

/// One thing that happened. Never changed and never removed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Event {
    /// Made by the device that wrote it, unique: sending twice adds once.
    pub id: String,
    /// The device.
    pub device: String,
    /// Position among that device's events, from 1.
    pub sequence: u64,
    /// When, milliseconds since 1970 by the device's clock.
    pub at_ms: u64,
    /// What happened.
    #[serde(flatten)]
    pub what: What,
}

/// What something told at intake is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum About {
    /// The customer's words.
    Complaint,
    /// When it happens.
    Happens,
    /// Parts replaced already, whether or not they are in this circuit.
    Replaced,
    /// Recent work.
    Work,
    /// Accessories.
    Accessories,
    /// Where water came in, what the accident was.
    Harm,
    /// What the odometer says.
    Mileage,
}

/// What happened.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "snake_case")]
pub enum What {
    /// The job was opened, with its circuit as a file's text.
    Opened {
        /// Title of the job.
        title: String,
        /// The customer's words.
        complaint: String,
        /// The vehicle's identification number as it was typed.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        vin: String,
        /// The circuit file.
        circuit: String,
    },
    /// What the customer and the vehicle's past say.
    Intake {
        /// Ids of parts replaced in vain.
        #[serde(default)]
        replaced: Vec<String>,
        /// Ids of parts lately disturbed.
        #[serde(default)]
        disturbed: Vec<String>,
        /// Ids of accessories fitted later, or of parts at which one was fitted or tapped in.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        accessories: Vec<String>,
        /// Water came in.
        #[serde(default)]
        water: bool,
        /// There was an accident.
        #[serde(default)]
        accident: bool,
        /// Whether the complaint comes and goes, where that was said.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        comes_and_goes: Option<bool>,
        /// What the customer has agreed to, in the shop's money, where a limit was set.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        authorised: Option<f64>,
    },
    /// One thing was told at intake, in words; what was told of it before is replaced. It moves no suspicion.
    Told {
        /// What it is about.
        about: About,
        /// The words; empty: nothing is known of it any more.
        words: String,
    },
    /// A photo was taken; it is kept beside the job's file.
    Photo {
        /// Its name there: see [`photos`](crate::photos).
        file: String,
        /// What it shows, in words; may be empty.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        words: String,
    },
    /// The vehicle was brought into a set-up (parted, switched, keyed) before anything was read in it.
    SetUp {
        /// Set-up, in its text form.
        set_up: String,
    },
    /// A reading with its whole set-up.
    Reading {
        /// Set-up, in its text form.
        set_up: String,
        /// Instrument and place, in its text form.
        test: String,
        /// What it showed, in its text form.
        shown: String,
        /// Taken on a sound vehicle of the same kind, or on the other bank.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        twin: bool,
    },
    /// Something was done or looked at.
    Did {
        /// What, in its text form: see [`parse_did`](crate::parse_did).
        did: String,
    },
    /// A trouble code read from a module.
    Code {
        /// Set-up, in its text form.
        set_up: String,
        /// The code: `P0533`.
        code: String,
        /// `present`, `pending`, `history`, `not set`, `not run`.
        state: String,
        /// When it was seen, in whatever words.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        seen: String,
    },
    /// Takes one event back by name; taking back an undo brings its event to life again.
    Undo {
        /// Id of the event.
        event: String,
    },
    /// The job waits for something, or goes on.
    Waiting {
        /// What it waits for; nothing: it goes on.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        on: Option<Awaited>,
    },
    /// The proof of the repair was accepted: the job is done.
    Accepted {},
    /// A repair was made: readings after it are proof or its refutation.
    Repair {
        /// What was done.
        words: String,
        /// Stable name of the fault that it was for, if one.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        fault: Option<String>,
    },
    /// Anything worth writing down.
    Note {
        /// The words.
        words: String,
    },
}
