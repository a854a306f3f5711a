use super::*;

const ONE: &str = circuit::DEMO;

fn shop() -> (tempfile::TempDir, Library) {
    let folder = tempfile::tempdir().unwrap();
    let library = Library::at(&folder.path().join("library"));
    (folder, library)
}

fn other() -> String {
    format!("# another version\n{ONE}")
}

#[test]
fn the_hash_is_sha_256() {
    // FIPS 180-4, example of the message "abc": ba7816bf 8f01cfea 414140de …
    assert_eq!(hash("abc"), "ba7816bf8f01");
}

#[test]
fn a_circuit_is_kept_found_and_read() {
    let (_folder, library) = shop();
    assert_eq!(library.contents().unwrap(), Contents::default());
    let (kept, is_new) = library.add("delivery van", "pressure", "2026-11-26", ONE).unwrap();
    assert!(is_new && kept.number == 1);
    assert_eq!(library.find("delivery van/pressure").unwrap(), kept);
    assert_eq!(library.text(&kept).unwrap(), ONE);
    let why = library.find("delivery van/presure").unwrap_err().to_string();
    assert!(why.contains("it has delivery van/pressure"), "{why}");
}

#[test]
fn versions_follow_each_other_and_none_is_written_twice() {
    let (_folder, library) = shop();
    let (first, _) = library.add("van", "pressure", "2026-11-26", ONE).unwrap();
    assert_eq!(
        library.add("van", "pressure", "2026-12-01", ONE).unwrap(),
        (first.clone(), false)
    );
    let (second, _) = library.add("van", "pressure", "2026-11-26", &other()).unwrap();
    assert_eq!((second.number, library.find("van/pressure").unwrap()), (2, second));
    assert_eq!(library.find("van/pressure@1").unwrap(), first);
    assert_eq!(library.text(&first).unwrap(), ONE);
    // An older one that comes in later is not the newest.
    library
        .add("van", "pressure", "2020-01-01", &format!("\n{ONE}"))
        .unwrap();
    assert_eq!(library.find("van/pressure").unwrap().number, 2);
}

#[test]
fn an_edited_file_is_told_and_stays() {
    let (_folder, library) = shop();
    let (kept, _) = library.add("van", "pressure", "2026-11-26", ONE).unwrap();
    let path = library.folder.join(kept.file());
    fs::write(&path, other()).unwrap();
    assert!(matches!(library.text(&kept), Err(LibraryError::Changed { .. })));
    // The text that is gone can be kept again, beside the edited one.
    let (again, is_new) = library.add("van", "pressure", "2026-11-26", ONE).unwrap();
    assert!(is_new && again.number == 2);
    assert_eq!(fs::read_to_string(&path).unwrap(), other());
}

#[test]
fn shops_exchange_circuits_with_their_dates() {
    let (_a, ours) = shop();
    let (_b, theirs) = shop();
    ours.add("van", "pressure", "2026-11-26", ONE).unwrap();
    theirs.add("van", "pressure", "2026-10-01", ONE).unwrap();
    theirs.add("van", "pressure", "2026-10-02", &other()).unwrap();
    let (torn, _) = theirs.add("car", "fan", "2026-10-03", ONE).unwrap();
    fs::write(theirs.folder.join(torn.file()), "title = ").unwrap();
    fs::write(theirs.folder.join("van/pressure/notes.txt"), "mine").unwrap();
    let taken = ours.take(&theirs, None).unwrap();
    assert_eq!(
        (taken.new.len(), taken.had, taken.left_out.len()),
        (1, 1, 2),
        "{taken:?}"
    );
    assert_eq!((taken.new[0].date.as_str(), taken.new[0].number), ("2026-10-02", 2));
    assert_eq!(ours.take(&theirs, Some("van/pressure")).unwrap().had, 2);
    assert!(ours.take(&theirs, Some("van/fan")).is_err());
}

#[test]
fn names_that_lead_elsewhere_and_wrong_circuits_are_refused() {
    let (folder, library) = shop();
    for name in ["", "..", "../x", "a/b", "a\\b", ".hidden", "a@2", "x ", &"a".repeat(61)] {
        let refused = library.add(name, "pressure", "2026-11-26", ONE);
        assert!(matches!(refused, Err(LibraryError::Name { .. })), "{name}");
    }
    for date in ["26.11.2026", "2026-13-01", "2026-1-1", "2026-11-26_1", "+026-11-26"] {
        let refused = library.add("van", "pressure", date, ONE);
        assert!(matches!(refused, Err(LibraryError::Date { .. })), "{date}");
    }
    let refused = library.add("van", "pressure", "2026-11-26", "titel = \"t\"");
    assert!(matches!(refused, Err(LibraryError::Circuit(_))));
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
}

#[test]
fn days_are_right_around_leap_days_and_turns_of_the_year() {
    // Seconds as `date -u -d DAY +%s` gives them.
    for (seconds, expected) in [
        (0, "1970-01-01"),
        (951_782_399, "2000-02-28"),
        (951_782_400, "2000-02-29"),
        (951_868_800, "2000-03-01"),
        (1_798_761_599, "2026-12-31"),
        (1_798_761_600, "2027-01-01"),
        (4_107_542_400, "2100-03-01"),
    ] {
        assert_eq!(day(seconds * 1000), expected);
    }
}
