//! Writes every target's seeds into a folder: `fuzz-seeds DIR`; prints the targets' names.

use std::path::PathBuf;

fn main() -> std::io::Result<()> {
    let folder = std::env::args_os().nth(1).map(PathBuf::from);
    for target in &fuzz::TARGETS {
        println!("{}", target.name);
        let Some(folder) = &folder else { continue };
        let folder = folder.join(target.name);
        std::fs::create_dir_all(&folder)?;
        let seeds = (target.seeds)();
        for (at, seed) in seeds.iter().chain(&fuzz::found(target.name)).enumerate() {
            std::fs::write(folder.join(format!("seed-{at:03}")), seed)?;
        }
    }
    Ok(())
}
