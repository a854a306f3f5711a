//! Lists the ready-made circuits of `archetypes/`, so that a new one is a file and nothing else.

use std::env;
use std::fmt::Write as _;
use std::fs;
use std::io;
use std::path::Path;

fn main() -> io::Result<()> {
    let root = env::var("CARGO_MANIFEST_DIR").map_err(io::Error::other)?;
    let folder = Path::new(&root).join("archetypes");
    println!("cargo::rerun-if-changed={}", folder.display());
    let mut names = Vec::new();
    for entry in fs::read_dir(&folder)? {
        let path = entry?.path();
        if path.extension().is_some_and(|extension| extension == "toml")
            && let Some(name) = path.file_stem()
        {
            names.push(name.to_string_lossy().into_owned());
        }
    }
    names.sort();
    let mut list = String::from("&[\n");
    for name in names {
        let path = folder.join(&name).with_extension("toml");
        let _ = writeln!(list, "    ({name:?}, include_str!({:?})),", path.display().to_string());
    }
    list.push_str("]\n");
    let out = env::var("OUT_DIR").map_err(io::Error::other)?;
    fs::write(Path::new(&out).join("archetypes.rs"), list)
}
