//! A folder of jobs as a list: where each stands, how it is found, and what a file that cannot be read does to the others.

use std::fs;
use std::path::Path;
use std::time::Instant;

use job::{About, Awaited, Event, Folder, Overview, Search, Standing, Store, What};

fn event(sequence: u64, what: What) -> Event {
    Event {
        id: sequence.to_string(),
        device: "bench".into(),
        sequence,
        at_ms: sequence * 60_000,
        what,
    }
}

fn opened(title: &str, complaint: &str) -> What {
    What::Opened {
        title: title.into(),
        complaint: complaint.into(),
        vin: String::new(),
        circuit: circuit::DEMO.into(),
    }
}

fn reading() -> What {
    What::Reading {
        set_up: "key on".into(),
        test: "scan pressure".into(),
        shown: "32.0 bar".into(),
        twin: false,
    }
}

fn code(code: &str) -> What {
    What::Code {
        set_up: "key on".into(),
        code: code.into(),
        state: "present".into(),
        seen: String::new(),
    }
}

fn repair() -> What {
    What::Repair {
        words: "dry the floor joint".into(),
        fault: Some("floor/water".into()),
    }
}

fn waiting(on: Option<Awaited>) -> What {
    What::Waiting { on }
}

fn overview(after: &[What]) -> Overview {
    let opened = opened("HH-PW 31, delivery van", "air conditioning cuts out");
    let all = std::iter::once(opened).chain(after.iter().cloned());
    let events: Vec<Event> = (1..).zip(all).map(|(at, what)| event(at, what)).collect();
    Overview::of(&events).expect("opened")
}

#[track_caller]
fn stands(after: &[What], expected: Standing, since_minutes: u64) {
    let overview = overview(after);
    assert_eq!(
        (overview.standing, overview.since_ms / 60_000),
        (expected, since_minutes)
    );
}

#[test]
fn where_a_job_stands_follows_from_its_events() {
    let (parts, customer) = (Some(Awaited::Parts), Some(Awaited::Customer));
    let undo = |event: &str| What::Undo { event: event.into() };
    stands(&[], Standing::Open, 1);
    stands(&[reading()], Standing::Open, 1);
    stands(&[reading(), waiting(parts)], Standing::Waiting(Awaited::Parts), 3);
    stands(
        &[waiting(customer), waiting(customer)],
        Standing::Waiting(Awaited::Customer),
        2,
    );
    stands(&[waiting(parts), waiting(None)], Standing::Open, 3);
    // Whoever measures no longer waits; a note is no work at the vehicle.
    stands(&[waiting(parts), reading()], Standing::Open, 3);
    stands(
        &[waiting(parts), What::Note { words: "rang".into() }],
        Standing::Waiting(Awaited::Parts),
        2,
    );
    stands(&[waiting(parts), undo("2")], Standing::Open, 1);
    stands(&[repair(), reading(), What::Accepted {}], Standing::Proven, 4);
    // It came back.
    stands(&[repair(), reading(), What::Accepted {}, reading()], Standing::Open, 5);
    stands(&[repair(), reading(), What::Accepted {}, undo("4")], Standing::Open, 1);
}

#[test]
fn a_job_is_found_by_plate_vehicle_code_and_words() {
    let job = overview(&[
        code("P0533"),
        What::Note {
            words: "Fuse box was open".into(),
        },
        repair(),
    ]);
    let found = |typed: &str| job.is_meant(&Search::new(typed));
    for typed in [
        "",
        " ",
        "hh-pw 31",
        "HHPW31",
        "hh pw 31",
        "van",
        "delivery conditioning",
        "P0533",
        "p0533",
        "fuse",
        "floor joint",
        "refrigerant pressure",
        "invented",
    ] {
        assert!(found(typed), "{typed}");
    }
    for typed in ["hh-pw 32", "HHPW32", "P0532", "conditioning lorry", "cuts outhh", "--"] {
        assert!(!found(typed), "{typed}");
    }
    assert!(!overview(&[]).is_meant(&Search::new("P0533")));
    let taken_back = overview(&[code("P0533"), What::Undo { event: "2".into() }]);
    assert!(!taken_back.is_meant(&Search::new("P0533")));
}

fn kept(folder: &Path, name: &str, whats: Vec<What>) {
    let mut store = Store::open(&folder.join(name)).expect("a store");
    for (at, what) in (1..).zip(whats) {
        store.append(event(at, what)).expect("appended");
    }
}

#[test]
fn a_file_that_cannot_be_read_is_told_and_hides_no_other() {
    let place = tempfile::tempdir().expect("a folder");
    let mut folder = Folder::at(&place.path().join("not there yet"));
    assert_eq!(folder.jobs().expect("empty").count(), 0);

    let mut folder = Folder::at(place.path());
    kept(place.path(), "a van.job", vec![opened("Van", "stalls")]);
    fs::write(place.path().join("broken.job"), "{\"probewise_job\":1}\nnot json\n").expect("written");
    fs::write(place.path().join("foreign.job"), "hello\n").expect("written");
    fs::write(place.path().join("newer.job"), "{\"probewise_job\":99}\n").expect("written");
    fs::write(place.path().join("empty.job"), "").expect("written");
    fs::write(place.path().join("learnt.json"), "{}").expect("written");
    fs::create_dir(place.path().join("folder.job")).expect("made");
    let told = |folder: &mut Folder| -> Vec<String> {
        let jobs = folder.jobs().expect("a list");
        jobs.map(|(id, told)| match told {
            Ok(overview) => format!("{id}: {}", overview.title),
            Err(why) => format!("{id}! {why}"),
        })
        .collect()
    };
    let expected = [
        "a van: Van",
        "broken! its line 2 cannot be read",
        "empty! nothing is in it yet",
        "foreign! it is no job of Probewise, whatever its name says",
        "newer! it was written by a newer Probewise",
    ];
    assert_eq!(told(&mut folder), expected);
    assert_eq!(
        fs::read_to_string(place.path().join("foreign.job")).expect("there"),
        "hello\n"
    );

    // What changed is read again while somebody has it open, a half-written line and all; what went is gone.
    let path = place.path().join("a van.job");
    let mut open = Store::open(&path).expect("opened");
    open.append(event(2, waiting(Some(Awaited::Customer))))
        .expect("appended");
    let mut bytes = fs::read(&path).expect("read");
    bytes.extend(b"{\"id\":\"3\"");
    fs::write(&path, &bytes).expect("written");
    fs::remove_file(place.path().join("broken.job")).expect("removed");
    let jobs: Vec<_> = folder
        .jobs()
        .expect("a list")
        .map(|(id, told)| (id.to_owned(), told.cloned()))
        .collect();
    assert_eq!(jobs.len(), 4);
    assert_eq!(
        jobs[0].1.as_ref().map(|one| one.standing),
        Ok(Standing::Waiting(Awaited::Customer))
    );
    assert_eq!(fs::read(&path).expect("read"), bytes, "looking changes nothing");
}

#[test]
fn an_id_names_a_file_of_this_folder_only() {
    let place = tempfile::tempdir().expect("a folder");
    let inner = place.path().join("jobs");
    kept(place.path(), "outside.job", vec![opened("Other", "")]);
    kept(&inner, "HH-PW 31 van.job", vec![opened("Van", "")]);
    kept(&inner, "a.b.job", vec![opened("Dotted", "")]);
    let folder = Folder::at(&inner);
    assert_eq!(folder.file("HH-PW 31 van"), Some(inner.join("HH-PW 31 van.job")));
    assert_eq!(folder.file("a.b"), Some(inner.join("a.b.job")));
    let outside = place.path().join("outside").display().to_string();
    for id in [
        "",
        ".",
        "..",
        "../outside",
        &outside,
        "a",
        "HH-PW 31 van.job",
        "HH-PW 31 van/",
        "./a.b",
    ] {
        assert_eq!(folder.file(id), None, "{id}");
    }
}

/// 2,000 jobs: reading them all the first time, looking whether any changed, and the search among them.
#[test]
fn two_thousand_jobs_are_searched_in_a_moment() {
    const JOBS: usize = 2000;
    let place = tempfile::tempdir().expect("a folder");
    // One store synced is enough: the others are the same bytes with another plate.
    kept(
        place.path(),
        "0.job",
        vec![
            opened("PLATE-0, delivery van", "air conditioning cuts out"),
            code("P0533"),
            reading(),
            repair(),
        ],
    );
    let text = fs::read_to_string(place.path().join("0.job")).expect("read");
    for at in 1..JOBS {
        let other = text.replace("PLATE-0,", &format!("PLATE-{at},"));
        fs::write(place.path().join(format!("{at}.job")), other).expect("written");
    }
    let mut folder = Folder::at(place.path());
    let timed = |folder: &mut Folder, typed: &str| {
        let began = Instant::now();
        let search = Search::new(typed);
        let jobs = folder.jobs().expect("a list");
        let found = jobs
            .filter(|(_, told)| told.is_ok_and(|one| one.is_meant(&search)))
            .count();
        (found, began.elapsed())
    };
    let (all, first) = timed(&mut folder, "");
    let (one, again) = timed(&mut folder, "plate 1234");
    println!("{all} jobs read in {first:?}, found anew in {again:?}");
    assert_eq!((all, one), (JOBS, 1));
    assert_eq!(timed(&mut folder, "refrigerant P0533").0, JOBS);
    // Without optimisation and on a busy machine; what it takes in the product stands in docs/measures.md.
    assert!(again.as_millis() < 500, "{again:?}");
    assert!(
        again < first / 2,
        "what did not change is not read again: {again:?}, {first:?}"
    );
}

#[test]
fn what_was_told_at_intake_is_found_and_the_later_words_hold() {
    let told = |about: About, words: &str| What::Told {
        about,
        words: words.into(),
    };
    let job = overview(&[
        told(About::Complaint, "stalls"),
        told(About::Accessories, "tow bar"),
        told(About::Complaint, "stalls when warm"),
    ]);
    assert_eq!(job.complaint, "stalls when warm");
    assert!(job.is_meant(&Search::new("tow")) && job.is_meant(&Search::new("warm")));

    let circuit = circuit::parse(circuit::DEMO).expect("the demo");
    let events = [
        opened("Van", "cuts out"),
        told(About::Happens, "over bumps"),
        told(About::Mileage, "81 200 km"),
        told(About::Happens, ""),
        What::Photo {
            file: "0123456789abcdef01234567.jpg".into(),
            words: String::new(),
        },
        What::Undo { event: "3".into() },
    ];
    let events: Vec<Event> = (1..).zip(events).map(|(at, what)| event(at, what)).collect();
    let state = job::derive(&circuit, &events);
    assert_eq!(state.complaint, "cuts out");
    assert!(state.told.is_empty(), "{:?}", state.told);
    assert_eq!(state.photos.len(), 1);
    // An older program's intake, without the fields that came since, reads as it was.
    let old = r#"{"id":"1","device":"a","sequence":1,"at_ms":0,"what":"intake","replaced":["sensor"],"water":true}"#;
    let old: Event = serde_json::from_str(old).expect("read");
    let state = job::derive(&circuit, &[old]);
    assert!(state.water && state.replaced.len() == 1 && state.accessories.is_empty());
}
