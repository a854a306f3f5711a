//! Jobs written up: what both documents hold, what they say of a job that is not finished, and that they are the job's own.

mod common;
#[path = "../../report/tests/common/mod.rs"]
mod pdf;

use std::sync::{Arc, OnceLock};
use std::time::Instant;

use bench::{Bench, Placement, Test};
use common::Server;
use diagnosis::{Expected, Experience, Predictions};
use job::{About, Awaited, Event, What};
use report::{Block, Document};
use web::facts::Facts;
use web::writeup::{Form, Opened, Reader, document, work_out, written};

const BEGUN_MS: u64 = 1_700_000_000_000;
const FAULT: &str = "floor/water";
const READERS: [Reader; 2] = [Reader::Customer, Reader::Technician];

/// A job as it grows, an event a minute.
#[derive(Clone)]
struct Job(Vec<Event>);

impl Job {
    fn opened(title: &str, complaint: &str) -> Self {
        Self(Vec::new()).and(What::Opened {
            title: title.into(),
            complaint: complaint.into(),
            vin: "1M8GDM9AXKP042788".into(),
            circuit: circuit::DEMO.into(),
        })
    }

    fn demo() -> Self {
        Self::opened("Van 31", "Air conditioning cuts out when the fan starts").and(What::Intake {
            replaced: vec!["sensor".into()],
            disturbed: Vec::new(),
            accessories: Vec::new(),
            water: true,
            accident: false,
            comes_and_goes: None,
            authorised: Some(150.0),
        })
    }

    fn and(mut self, what: What) -> Self {
        let sequence = self.0.len() as u64 + 1;
        self.0.push(Event {
            id: format!("event-{sequence}"),
            device: "bench".into(),
            sequence,
            at_ms: BEGUN_MS + 60_000 * sequence,
            what,
        });
        self
    }

    fn last(&self) -> String {
        self.0.last().expect("opened").id.clone()
    }

    fn reading(self, set_up: &str, test: &str, shown: &str) -> Self {
        let (set_up, test, shown) = (set_up.into(), test.into(), shown.into());
        self.and(What::Reading {
            set_up,
            test,
            shown,
            twin: false,
        })
    }

    fn code(self, code: &str, state: &str) -> Self {
        let (set_up, code, state) = ("key on".into(), code.into(), state.into());
        self.and(What::Code {
            set_up,
            code,
            state,
            seen: String::new(),
        })
    }

    fn did(self, did: &str) -> Self {
        self.and(What::Did { did: did.into() })
    }

    fn repaired(self, fault: Option<&str>) -> Self {
        self.and(What::Repair {
            words: "floor joint dried, terminals cleaned and sealed".into(),
            fault: fault.map(str::to_owned),
        })
    }

    /// Two readings that find the water, one slip that is taken back, codes, a close look, the repair.
    fn found_and_repaired() -> Self {
        let job = Self::demo()
            .and(What::Told {
                about: About::Mileage,
                words: "81 200 km".into(),
            })
            .code("P0533", "present")
            .code("P0420", "history")
            .reading("key on; fan commanded", "scan pressure", "32.0 bar")
            .reading("key on; S1 apart; fan commanded", "voltmeter S1.3 battery-", "1.11 V");
        let slip = job.last();
        job.and(What::Undo { event: slip })
            .reading("key on; S1 apart; fan commanded", "voltmeter S1.3 battery-", "11.11 V")
            .did("looked floor damaged")
            .did("looked C5 damaged")
            .did("cleared codes")
            .repaired(Some(FAULT))
    }

    /// The same, every reading that proves the repair in the middle of its band.
    fn finished() -> Self {
        let mut job = Self::found_and_repaired();
        for (test, low, high) in job.bands() {
            let circuit = demo();
            let unit = match test.placement {
                Placement::Scan { .. } => "bar",
                _ => "V",
            };
            let middle = format!("{:.2} {unit}", f64::midpoint(low, high));
            job = job.reading(
                &test.set_up.to_text(&circuit),
                &test.placement.to_text(&circuit),
                &middle,
            );
        }
        job.code("P0533", "not set")
    }

    /// Readings that prove its repair, with the ends of their bands.
    fn bands(&self) -> Vec<(Test, f64, f64)> {
        let circuit = Arc::new(demo());
        let faults = circuit::possible_faults(&circuit);
        let bench = Bench::new(Arc::clone(&circuit)).expect("sound");
        let state = job::derive(&circuit, &self.0);
        let facts = Facts::of(&state, &faults);
        let now = state.stands.clone().expect("something was read");
        let mut memory = Predictions::default();
        let proof = diagnosis::proof(&bench, &circuit, &faults, &facts.case(), &now, &mut memory);
        let readings = proof.expect("it is solved").expect("a repair is noted").readings;
        let bands = readings.into_iter().filter_map(|reading| match reading.band {
            Expected::Range(low, high) => Some((reading.test, low, high)),
            Expected::Is(_) => None,
        });
        bands.collect()
    }

    fn both(&self) -> [Document; 2] {
        let opened = Opened::of(self.0.clone(), &Experience::default()).expect("its circuit is sound");
        let account = work_out(opened.sources(), &mut Predictions::default()).expect("it is solved");
        READERS.map(|reader| document(&account, reader, 60))
    }

    fn for_the_customer(&self) -> Document {
        let [customer, _] = self.both();
        customer
    }
}

/// The finished job and its documents, made once: a weighing takes its time where nothing is optimised.
fn finished() -> &'static (Job, [Document; 2]) {
    static FINISHED: OnceLock<(Job, [Document; 2])> = OnceLock::new();
    FINISHED.get_or_init(|| {
        let job = Job::finished();
        let both = job.both();
        (job, both)
    })
}

fn demo() -> circuit::Circuit {
    circuit::parse(circuit::DEMO).expect("the demo is sound")
}

/// Every text of a document but what is inside pictures, a piece a line.
fn text(document: &Document) -> String {
    let mut lines = vec![document.title.clone(), document.subtitle.clone()];
    for block in &document.blocks {
        match block {
            Block::Heading(text) | Block::Subheading(text) | Block::Paragraph(text) => lines.push(text.clone()),
            Block::List(points) => lines.extend(points.iter().cloned()),
            Block::Facts(facts) => lines.extend(facts.iter().map(|(name, said)| format!("{name}: {said}"))),
            Block::Table(table) => {
                lines.push(table.header.join(" | "));
                lines.extend(table.rows.iter().map(|row| row.join(" | ")));
            }
            Block::Figure(figure) => lines.extend([figure.caption.clone(), figure.alternative.clone()]),
            Block::Callout(title, texts) => {
                lines.push(title.clone());
                lines.extend(texts.iter().cloned());
            }
        }
    }
    lines.join("\n")
}

/// The rows of the table with this column.
fn rows<'d>(document: &'d Document, column: &str) -> &'d [Vec<String>] {
    let tables = document.blocks.iter().filter_map(|block| match block {
        Block::Table(table) if table.header.iter().any(|name| name == column) => Some(table.rows.as_slice()),
        _ => None,
    });
    tables.into_iter().next().unwrap_or_default()
}

#[test]
fn a_finished_job_is_told_whole_in_both_documents_and_in_every_form() {
    let (job, both) = finished();
    let bands = job.bands();
    assert!(!bands.is_empty());
    for document in both {
        let told = text(document);
        assert!(!told.contains("not finished"), "{told}");
        let both_forms = [
            String::from_utf8(written(document, Form::Html).unwrap()).unwrap(),
            pdf::run_together(&written(document, Form::Pdf).unwrap()).unwrap_or_else(|| told.clone()),
        ];
        let mut expected: Vec<String> = [
            "Water or corrosion between neighbouring terminals, floor joint",
            "Air conditioning cuts out when the fan starts",
            "1M8GDM9AXKP042788",
            "81 200 km",
            "floor joint dried, terminals cleaned and sealed",
            "Mended: the readings since the repair prove it",
            "32.0 bar",
            "11.11 V",
            "key on, engine off, sensor plug apart, condenser fan on",
            "Voltage at sensor plug, cavity 3",
            "P0533",
            "has not come back",
            "150.00",
        ]
        .map(str::to_owned)
        .to_vec();
        for (_, low, high) in &bands {
            let (low, high) = (
                quantity::format(*low, quantity::Unit::Volt),
                quantity::format(*high, quantity::Unit::Volt),
            );
            let low = low.trim_end_matches(" V").to_owned();
            if told.contains(&format!("{low} to {high}")) {
                expected.push(format!("{low} to {high}"));
            }
        }
        for said in &expected {
            let bare = |text: &str| text.split_whitespace().collect::<String>();
            assert!(told.contains(said.as_str()), "`{said}` is missing in\n{told}");
            for form in &both_forms {
                assert!(
                    bare(form).contains(&bare(said)),
                    "`{said}` is missing in a form of {}",
                    document.title
                );
            }
        }
        // Every reading stands there with its set-up, and every band.
        let circuit = demo();
        let readings = rows(
            document,
            if told.contains("Sound vehicle") {
                "Sound vehicle"
            } else {
                "It showed"
            },
        );
        let state = job::derive(&circuit, &job.0);
        for entry in state.entries() {
            let [what, set_up] = [
                web::words::capital(&web::words::placement(&circuit, &entry.reading.test.placement)),
                web::words::set_up(&circuit, &entry.reading.test.set_up),
            ];
            let shown = web::words::shown(&circuit, &entry.reading.test.placement, &entry.reading.shown);
            let there = readings
                .iter()
                .any(|row| [&what, &set_up, &shown].into_iter().all(|said| row.contains(said)));
            assert!(there, "{what}, {set_up}, {shown} is missing in {readings:#?}");
        }
        let proof = rows(document, "Must read");
        assert_eq!(proof.len(), bands.len(), "{proof:#?}");
        assert!(
            proof.iter().all(|row| row[4] == "within" && row[3] != "–"),
            "{proof:#?}"
        );
    }
}

#[test]
fn what_is_not_done_is_not_claimed() {
    let read = Job::demo().reading("key on; fan commanded", "scan pressure", "32.0 bar");
    let odd = "key on; S1 apart; fan commanded";
    let refuted = Job::found_and_repaired().reading(odd, "voltmeter S1.3 battery-", "11.11 V");
    for (job, whys) in [
        (Job::demo(), ["Nothing has been measured yet.", "No repair is noted."]),
        (read.clone(), ["No repair is noted.", "The cause is not proved"]),
        (
            read.clone().and(What::Waiting {
                on: Some(Awaited::Parts),
            }),
            ["No repair is noted.", "The job is waiting for parts."],
        ),
        (
            read.clone().repaired(None),
            ["A repair is noted, but not for which fault", "nothing is proved"],
        ),
        (
            read.clone().repaired(Some("no/such fault")),
            ["A repair is noted, but not for which fault", "nothing is proved"],
        ),
        (
            Job::found_and_repaired(),
            ["Not proved yet", "Nothing was measured since the repair."],
        ),
        (refuted, ["Not mended", "that would prove the repair"]),
    ] {
        for document in job.both() {
            let told = text(&document);
            assert!(told.contains("This job is not finished"), "{told}");
            assert!(whys.iter().all(|why| told.contains(why)), "{whys:?} in\n{told}");
            assert!(
                !told.contains("What was wrong\n") && !told.contains("prove it, with a chance"),
                "{told}"
            );
        }
    }
    // A repair that nobody can weigh leaves the readings since in the list.
    let unnamed = read
        .repaired(None)
        .reading("key on; fan commanded", "scan pressure", "8.0 bar");
    for document in unnamed.both() {
        assert!(text(&document).contains("8.0 bar"));
    }
}

#[test]
fn what_was_taken_back_is_shown_as_such_and_counts_nowhere() {
    let (job, [customer, technician]) = finished();
    let log = rows(technician, "Sound vehicle");
    let slips: Vec<&Vec<String>> = log.iter().filter(|row| row.contains(&"1.11 V".to_owned())).collect();
    assert_eq!(slips.len(), 1, "{log:#?}");
    assert!(
        slips[0][0].is_empty() && slips[0][6].starts_with("TAKEN BACK"),
        "{slips:?}"
    );
    assert!(!text(customer).contains(" 1.11 V"));
    let without: Vec<Event> = job
        .0
        .iter()
        .filter(|event| {
            !matches!(&event.what, What::Undo { .. })
                && !matches!(&event.what, What::Reading { shown, .. } if shown == "1.11 V")
        })
        .cloned()
        .collect();
    assert_eq!(rows(&Job(without).both()[1], "After"), rows(technician, "After"));
}

#[test]
fn the_suspects_move_with_each_reading_to_what_is_weighed_at_the_end() {
    let (job, [_, technician]) = finished();
    let trail = rows(technician, "After");
    let circuit = Arc::new(demo());
    let faults = circuit::possible_faults(&circuit);
    let bench = Bench::new(Arc::clone(&circuit)).unwrap();
    let state = job::derive(&circuit, &job.0);
    let facts = Facts::of(&state, &faults);
    // One step before anything, one a reading or deed.
    assert_eq!(trail.len(), 1 + facts.readings.len() + facts.deeds.len(), "{trail:#?}");
    let belief = diagnosis::weigh(&bench, &circuit, &faults, &facts.case(), &mut Predictions::default()).unwrap();
    let figure = |chance: f64| web::words::percent(chance).replace("over ", ">").replace(' ', "\u{a0}");
    let first = figure(belief.repairs()[0].1);
    let last = trail.last().unwrap();
    assert_eq!(last[1], first, "{trail:#?}");
    assert_eq!(last.last().unwrap(), &figure(belief.mended()));
    assert_ne!(trail[0][1], last[1], "{trail:#?}");
    assert!(
        trail[0].last().unwrap().is_empty(),
        "nothing can be mended before anything is done"
    );
}

#[test]
fn codes_are_followed_from_first_to_last() {
    let codes = |job: &Job| rows(&job.for_the_customer(), "As found").to_vec();
    let found = Job::found_and_repaired();
    let told = codes(&found);
    assert_eq!(told.len(), 2, "{told:#?}");
    assert_eq!(
        told[0][2..],
        ["set".to_owned(), told[0][3].clone(), "not read since".into()]
    );
    assert_ne!(told[0][3], "no");
    assert!(told[1][1].contains("no check of this circuit"), "{told:#?}");
    assert_eq!(
        codes(&found.clone().code("P0533", "not set"))[0][4],
        "has not come back"
    );
    let back = found.code("P0533", "present");
    assert!(codes(&back)[0][4].starts_with("came back"), "{:#?}", codes(&back));
    assert!(text(&back.for_the_customer()).contains("Code P0533 came back"));
    let kept = Job::demo().code("P0533", "present");
    assert_eq!(codes(&kept)[0][3..], ["no".to_owned(), String::new()]);
}

#[test]
fn what_it_cost_adds_up_and_is_held_against_the_limit() {
    let told = |limit: f64| {
        let mut job = finished().0.clone();
        for event in &mut job.0 {
            if let What::Intake { authorised, .. } = &mut event.what {
                *authorised = Some(limit);
            }
        }
        job.for_the_customer()
    };
    let within = &finished().1[0];
    let tally = rows(within, "Comes to");
    let number = |text: &String| text.replace('–', "0").parse::<f64>().unwrap();
    let (all, items) = tally.split_last().unwrap();
    for column in [1, 2, 3] {
        let sum: f64 = items.iter().map(|row| number(&row[column])).sum();
        assert!(
            (sum - number(&all[column])).abs() < 0.06 * items.len() as f64,
            "{tally:#?}"
        );
    }
    // Work at 90 an hour.
    assert!(
        (number(&all[1]) * 1.5 + number(&all[2]) - number(&all[3])).abs() < 0.2,
        "{tally:#?}"
    );
    assert!(text(within).contains("this is within it"), "{}", text(within));
    let total = number(&all[3]);
    let above = told(total - 12.0);
    assert!(text(&above).contains("this is 12.00 above that"), "{}", text(&above));
}

#[test]
fn figures_are_those_of_the_instrument_and_none_has_a_tail() {
    for document in &finished().1 {
        let told = text(document);
        let tails = told
            .split(|letter: char| !letter.is_ascii_digit() && letter != '.')
            .filter(|number| number.split_once('.').is_some_and(|(_, decimals)| decimals.len() > 4));
        assert_eq!(tails.collect::<Vec<_>>(), Vec::<&str>::new());
        assert!(!told.contains("NaN") && !told.contains("inf "), "{told}");
    }
}

#[test]
fn what_was_typed_is_never_markup() {
    let nasty = "Van <script>alert(1)</script> & \"31\" реле \u{1b}";
    let job = Job::opened(nasty, nasty)
        .reading("key on; fan commanded", "scan pressure", "32.0 bar")
        .and(What::Note { words: nasty.into() })
        .and(What::Repair {
            words: nasty.into(),
            fault: Some(FAULT.into()),
        });
    for document in job.both() {
        let page = String::from_utf8(written(&document, Form::Html).unwrap()).unwrap();
        assert!(
            !page.contains("<script") && page.contains("&lt;script&gt;alert(1)"),
            "{page}"
        );
        assert!(page.contains("реле"), "a page shows every letter");
        let bytes = written(&document, Form::Pdf).unwrap();
        if let Some(all) = pdf::run_together(&bytes) {
            assert!(all.contains("<script>alert(1)</script>&\"31\"????"), "{all}");
        }
    }
}

#[test]
fn equal_jobs_give_equal_bytes() {
    let (job, both) = finished();
    for (one, other) in both.iter().zip(&job.both()) {
        assert_eq!(one, other);
        for form in [Form::Pdf, Form::Html] {
            assert_eq!(written(one, form).unwrap(), written(other, form).unwrap());
        }
    }
}

#[test]
fn two_hundred_readings_stand_in_both_documents_and_are_set_in_a_moment() {
    let mut job = Job::demo()
        .reading("key on; fan commanded", "scan pressure", "32.0 bar")
        .repaired(None);
    // What was read after a repair that names no fault is told and not weighed: this is about the documents alone.
    for at in 0..199 {
        let set_up = if at % 2 == 0 { "key on" } else { "key on; fan commanded" };
        job = job.reading(
            set_up,
            "voltmeter battery+ battery-",
            &format!("12.{:02} V", 40 + at % 7),
        );
    }
    let [customer, technician] = job.both();
    assert_eq!(rows(&customer, "It showed").len(), 200);
    let numbers = rows(&technician, "Sound vehicle")
        .iter()
        .filter(|row| !row[0].is_empty());
    assert_eq!(numbers.count(), 200);
    for document in [&customer, &technician] {
        for form in [Form::Pdf, Form::Html] {
            let began = Instant::now();
            let bytes = written(document, form).unwrap();
            let took = began.elapsed();
            println!("{form:?}: {} kB in {took:?}", bytes.len() / 1024);
            assert!(took.as_secs() < 20, "{form:?} took {took:?}, unoptimised");
        }
    }
}

#[test]
fn the_page_hands_both_out_in_both_forms() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(&folder.path().join("van.job"));
    for reader in ["customer", "technician"] {
        let (status, head, body) = server.get(&format!("/api/v1/write-up?for={reader}&as=html&east=60"));
        assert_eq!(status, 200, "{body}");
        assert!(
            head.contains("content-type: text/html") && head.contains("style-src 'sha256-"),
            "{head}"
        );
        assert_eq!(head.matches("content-security-policy:").count(), 1, "{head}");
        assert!(
            body.contains("This job is not finished") && body.contains("11.11 V"),
            "{body}"
        );
        let (status, head, body) = server.get(&format!("/api/v1/write-up?for={reader}&as=pdf"));
        assert_eq!(status, 200);
        assert!(head.contains(&format!("filename=\"van-31-{reader}.pdf\"")), "{head}");
        assert!(body.starts_with("%PDF-"), "{head}");
    }
    for wrong in ["for=nobody&as=pdf", "for=customer&as=doc"] {
        let (status, _, body) = server.get(&format!("/api/v1/write-up?{wrong}"));
        assert_eq!(status, 422, "{body}");
        assert!(body.contains("Ask for"), "{body}");
    }
    assert_eq!(server.get("/api/v1/write-up?for=customer").0, 400);
}
