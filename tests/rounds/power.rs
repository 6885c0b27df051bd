//! Power cuts: an image of the disk, taken at one moment while the server works, is a disk after a power cut.
//!
//! The server's folder lies on a file system of its own in a file, and that file on another file system in a file. An
//! image of the outer file holds what has reached the disk: what only the system's memory has is not in it. Where the
//! inner file system passes flushes on, what the server has flushed is there; where it is told not to, it is a disk that
//! lies about flushing.

use crate::phone::{Dice, Outcome, Phone};
use crate::support::ship::Ship;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

/// What the disk does when it is asked to flush.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Flush {
    /// What it is asked for.
    Done,
    /// Nothing.
    Ignored,
}

/// Runs a command; what it says where it fails is why.
fn does(program: &str, arguments: &[&str]) -> Result<(), String> {
    let output = Command::new(program)
        .args(arguments)
        .stdin(Stdio::null())
        .output()
        .map_err(|error| format!("{program}: {error}"))?;
    if output.status.success() {
        Ok(())
    } else {
        let words = String::from_utf8_lossy(&output.stderr);
        Err(format!(
            "{program} {}: {}",
            arguments.join(" "),
            words.trim()
        ))
    }
}

fn text(path: &Path) -> &str {
    path.to_str().expect("text")
}

/// A file system that is mounted; unmounted when dropped.
#[derive(Debug)]
struct Mounted(PathBuf);

impl Mounted {
    fn new(image: &Path, at: &Path, options: &str) -> Result<Self, String> {
        std::fs::create_dir_all(at).map_err(|error| error.to_string())?;
        does(
            "mount",
            &["-t", "ext4", "-o", options, text(image), text(at)],
        )?;
        Ok(Self(at.to_owned()))
    }
}

impl Drop for Mounted {
    fn drop(&mut self) {
        // A server that is being killed may still hold it for a moment.
        for _ in 0..50 {
            if does("umount", &[text(&self.0)]).is_ok() {
                return;
            }
            std::thread::sleep(Duration::from_millis(20));
        }
    }
}

/// The two file systems, one in the other. What is declared first is unmounted first.
#[derive(Debug)]
pub struct Disk {
    inner: Mounted,
    outer: Mounted,
    image: PathBuf,
}

fn make(image: &Path, megabytes: usize) -> Result<(), String> {
    // Written to the end: no block is given out later, which alone would make the journal write.
    std::fs::write(image, vec![0; megabytes << 20]).map_err(|error| error.to_string())?;
    does("mkfs.ext4", &["-q", "-F", text(image)])
}

impl Disk {
    /// Says whether this machine lets file systems be mounted from files.
    pub fn can_be_made() -> Result<(), String> {
        let folder = tempfile::tempdir().map_err(|error| error.to_string())?;
        Self::make(folder.path(), Flush::Done).map(drop)
    }

    fn make(folder: &Path, flush: Flush) -> Result<Self, String> {
        let image = folder.join("outer.img");
        make(&image, 48)?;
        let outer = Mounted::new(&image, &folder.join("outer"), "loop,commit=300")?;
        let inner = folder.join("outer/inner.img");
        make(&inner, 24)?;
        Self::mount_inner(folder, outer, image, flush)
    }

    fn mount_inner(
        folder: &Path,
        outer: Mounted,
        image: PathBuf,
        flush: Flush,
    ) -> Result<Self, String> {
        let barrier = match flush {
            Flush::Done => "loop,commit=300,barrier=1",
            Flush::Ignored => "loop,commit=300,barrier=0",
        };
        let inner = folder.join("outer/inner.img");
        let inner = Mounted::new(&inner, &folder.join("inner"), barrier)?;
        Ok(Self {
            inner,
            outer,
            image,
        })
    }

    fn folder(&self) -> PathBuf {
        self.inner.0.join("data")
    }

    /// Puts everything on the disk that the system has in its memory.
    fn settle(&self) -> Result<(), String> {
        does("sync", &["-f", text(&self.inner.0)])?;
        does("sync", &["-f", text(&self.outer.0)])
    }

    /// Takes the disk as a power cut leaves it, into another folder.
    fn cut(&self, folder: &Path) -> Result<Self, String> {
        let image = folder.join("outer.img");
        std::fs::copy(&self.image, &image).map_err(|error| error.to_string())?;
        let outer = Mounted::new(&image, &folder.join("outer"), "loop")?;
        Self::mount_inner(folder, outer, image, Flush::Done)
    }
}

/// Cuts the power so often and counts what was lost.
pub fn run(cuts: u64, flush: Flush, dice: &mut Dice) -> Outcome {
    let mut outcome = Outcome::default();
    for _ in 0..cuts {
        let (before, after) = (
            tempfile::tempdir().expect("a folder"),
            tempfile::tempdir().expect("a folder"),
        );
        let disk = Disk::make(before.path(), flush).expect("a disk");
        let ship = Ship::mustered(&disk.folder());
        let mut phone = Phone::enrolled(&ship);
        phone.works(200);
        disk.settle().expect("it is written");
        let told = phone.sends(&ship.url, dice.throw());
        // When the power goes is what this is about; nothing is asserted of it.
        std::thread::sleep(Duration::from_millis(150 + dice.below(200) as u64));
        ship.kill();
        let left = disk.cut(after.path()).expect("an image");
        phone.heard(&told);
        let ship = Ship::start(&left.folder(), &[]);
        outcome.lost += phone.lost(&ship);
        outcome.acknowledged += phone.acknowledged();
        outcome.rounds += 1;
        ship.kill();
    }
    outcome
}
