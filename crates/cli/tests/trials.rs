//! The `trials` command: a table, its JSON, plots, and clear words where it cannot try.

mod common;

use common::{check_shape, json, run, text};

#[test]
fn a_few_vehicles_are_tried_and_told_of_in_every_form() {
    let folder = tempfile::tempdir().expect("a folder");
    let plots = folder.path().join("plots");
    let output = run(&[
        "trials",
        "--circuit",
        concat!(env!("CARGO_MANIFEST_DIR"), "/../../circuits/small/starter.toml"),
        "--jobs",
        "3",
        "--json",
        "--plots",
        plots.to_str().expect("a path"),
    ]);
    assert!(output.status.success(), "{}", text(&output.stderr));
    let value = check_shape("trials", &text(&output.stdout));
    assert_eq!(value["searches"].as_array().map(Vec::len), Some(3));
    assert_eq!(value["strategies"][0]["figures"]["jobs"], 3);
    assert_eq!(value["strategies"][0]["figures"]["harmful"], 0);
    assert!(text(&output.stderr).contains("3 of 3 vehicles searched"));
    for name in ["reliability.svg", "ranks.svg", "cause-ranks.svg", "costs.svg"] {
        let svg = std::fs::read_to_string(plots.join(name)).expect(name);
        assert!(svg.starts_with("<svg") && svg.ends_with("</svg>\n"), "{name}");
    }
}

#[test]
fn what_cannot_be_tried_is_said() {
    let output = run(&["trials", "--strategy", "clever"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("half-split"), "the names are listed");
    let output = run(&["trials", "--circuit", "nowhere.toml"]);
    assert_eq!(output.status.code(), Some(3));
    assert!(text(&output.stderr).contains("nowhere.toml"));
    assert_eq!(run(&["trials", "--jobs", "0"]).status.code(), Some(2));
}

#[test]
fn the_optimum_of_a_small_table_is_told_beside_what_each_way_costs() {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/../../circuits/small/potentiometer.toml");
    let args = ["trials", "--optimum", "--circuit", file, "--jobs", "24", "--tests", "4"];
    let found = json("optimum", &[&args[..], &["--json"]].concat(), 0);
    let table = &found["tables"][0];
    let cost = |way: &str| table[way].as_f64().expect("a number");
    assert!(
        cost("least") < cost("optimum") && cost("optimum") <= cost("product") + 1e-9,
        "{table}"
    );
    let told = text(&run(&args).stdout);
    let ratio = format!("{:.3}", cost("product") / cost("optimum"));
    assert!(told.contains("potentiometer") && told.contains(&ratio), "{told}");
    assert_eq!(
        run(&["trials", "--tests", "4"]).status.code(),
        Some(2),
        "only with --optimum"
    );
}
