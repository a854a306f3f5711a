//! A job's file keeps what was acknowledged, whatever happens to it.

use std::fs;

use job::{Event, Store, StoreError, What, state::undone, steps};

fn note(id: &str) -> Event {
    Event {
        id: id.into(),
        device: "bench".into(),
        sequence: 1,
        at_ms: 0,
        what: What::Note { words: id.into() },
    }
}

fn undo(id: &str, event: &str) -> Event {
    Event {
        what: What::Undo { event: event.into() },
        ..note(id)
    }
}

#[test]
fn events_survive_closing_and_an_id_counts_once() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.job");
    let mut store = Store::open(&path).unwrap();
    assert!(store.append(note("1")).unwrap());
    assert!(!store.append(note("1")).unwrap());
    assert!(store.append(note("2")).unwrap());
    drop(store);
    assert_eq!(Store::open(&path).unwrap().events(), [note("1"), note("2")]);
}

#[test]
fn a_torn_last_line_is_set_aside_at_every_length() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.job");
    let mut store = Store::open(&path).unwrap();
    store.append(note("1")).unwrap();
    let kept = fs::metadata(&path).unwrap().len() as usize;
    store.append(note("2")).unwrap();
    drop(store);
    let whole = fs::read(&path).unwrap();
    for cut in kept + 1..whole.len() {
        let path = folder.path().join(format!("cut{cut}.job"));
        fs::write(&path, &whole[..cut]).unwrap();
        let mut store = Store::open(&path).unwrap();
        assert_eq!(store.events(), [note("1")], "cut at {cut}");
        assert!(store.append(note("3")).unwrap());
        drop(store);
        assert_eq!(Store::open(&path).unwrap().events(), [note("1"), note("3")]);
        let torn = fs::read(folder.path().join(format!("cut{cut}.job.torn"))).unwrap();
        assert_eq!(&torn[..torn.len() - 1], &whole[kept..cut]);
    }
}

#[test]
fn a_job_that_is_open_elsewhere_is_read_and_stays_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.job");
    let mut store = Store::open(&path).unwrap();
    store.append(note("1")).unwrap();
    let torn = [&fs::read(&path).unwrap()[..], b"{\"id\":\"2\""].concat();
    fs::write(&path, &torn).unwrap();
    assert_eq!(Store::peek(&path).unwrap(), [note("1")]);
    assert_eq!(fs::read(&path).unwrap(), torn);
    assert!(!folder.path().join("a.job.torn").exists());
    let missing = Store::peek(&folder.path().join("b.job")).unwrap_err().to_string();
    assert!(missing.contains("b.job"), "{missing}");
}

#[test]
fn foreign_newer_and_broken_files_are_refused_and_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.job");
    for (text, part) in [
        ("dear diary\n", "not a Probewise job"),
        ("half", "not a Probewise job"),
        ("{\"probewise_job\":99}\n", "newer"),
        ("{\"probewise_job\":1}\n{\"id\":\n{}\n", "line 2"),
    ] {
        fs::write(&path, text).unwrap();
        let error = Store::open(&path).unwrap_err().to_string();
        assert!(error.contains(part), "{error}");
        assert_eq!(fs::read_to_string(&path).unwrap(), text);
    }
}

#[test]
fn a_job_open_elsewhere_is_busy() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.job");
    let _open = Store::open(&path).unwrap();
    assert!(matches!(Store::open(&path), Err(StoreError::Busy { .. })));
}

#[test]
fn an_undo_can_be_taken_back_and_again() {
    let ids = |events: &[Event]| undone(events).into_iter().collect::<Vec<_>>();
    assert_eq!(ids(&[note("a"), undo("u", "a")]), ["a"]);
    assert_eq!(ids(&[note("a"), undo("u", "a"), undo("r", "u")]), ["u"]);
    assert_eq!(
        ids(&[note("a"), undo("u", "a"), undo("r", "u"), undo("again", "r")]),
        ["a", "r"]
    );
}

#[test]
fn undo_and_redo_step_through_what_was_done() {
    let steps = |events: &[Event]| {
        let steps = steps(events);
        (steps.undo.unwrap_or_default(), steps.redo.unwrap_or_default())
    };
    let told = |undo: &str, redo: &str| (undo.to_owned(), redo.to_owned());
    let mut events = vec![note("a"), note("b")];
    assert_eq!(steps(&events), told("b", ""));
    events.push(undo("u1", "b"));
    assert_eq!(steps(&events), told("a", "u1"));
    events.push(undo("u2", "a"));
    assert_eq!(steps(&events), told("", "u2"));
    events.push(undo("r2", "u2"));
    assert_eq!(steps(&events), told("a", "u1"));
    events.push(undo("r1", "u1"));
    assert_eq!(steps(&events), told("b", ""));
    events.extend([undo("u3", "b"), note("c")]);
    assert_eq!(steps(&events), told("c", ""));
}
