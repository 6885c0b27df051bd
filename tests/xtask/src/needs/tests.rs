//! A machine of stand-ins: small scripts in place of `rustc`, `rustup`, `apt-get` and what they install.

use super::*;

/// A folder that is the machine's whole path, but for the shell's own programs.
struct StandIns {
    folder: tempfile::TempDir,
}

impl StandIns {
    fn new() -> Self {
        Self {
            folder: tempfile::tempdir().expect("a folder"),
        }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Puts a program there that does `does`, a line of shell; `$HERE` is the folder.
    fn put(&self, name: &str, does: &str) {
        let text = format!("#!/bin/sh\nHERE={}\n{does}\n", self.folder.path().display());
        // Written by a shell: a file that this process still has open for writing anywhere cannot be run.
        let written = std::process::Command::new("/bin/sh")
            .args(["-c", "printf '%s' \"$TEXT\" >\"$TO\" && chmod 755 \"$TO\""])
            .env("TEXT", text)
            .env("TO", self.path(name))
            .status();
        assert!(written.is_ok_and(|status| status.success()));
    }

    /// A compiler whose target's folder is `$HERE/wasm`, and a rustup that makes it.
    fn put_rust(&self) {
        self.put("rustc", "echo $HERE/wasm");
        self.put(
            "rustup",
            "echo rustup $* >>$HERE/said; /bin/mkdir -p $HERE/wasm",
        );
    }

    fn machine(&self, installs_packages: bool) -> Machine {
        Machine::new(self.folder.path().into(), installs_packages)
    }

    fn said(&self) -> String {
        std::fs::read_to_string(self.path("said")).unwrap_or_default()
    }
}

#[test]
fn a_target_that_is_missing_is_added_and_one_that_is_there_is_left_alone() {
    let here = StandIns::new();
    here.put_rust();
    meet(&here.machine(false), &[Need::WasmTarget]).unwrap();
    assert_eq!(here.said(), "rustup target add wasm32-unknown-unknown\n");
    meet(&here.machine(false), &[Need::WasmTarget]).unwrap();
    assert_eq!(here.said().lines().count(), 1, "asked once");
}

#[test]
fn components_that_are_missing_are_added() {
    let here = StandIns::new();
    // As rustup does it: the name is there, and fails until the component is.
    here.put("rustfmt", "test -e $HERE/has-rustfmt");
    here.put("cargo-clippy", "test -e $HERE/has-clippy");
    here.put("rustup", "echo rustup $* >>$HERE/said; : >$HERE/has-$3");
    meet(&here.machine(false), &[Need::Rustfmt, Need::Clippy]).unwrap();
    assert_eq!(
        here.said(),
        "rustup component add rustfmt\nrustup component add clippy\n"
    );
}

#[test]
fn packages_are_installed_as_root_on_debian_after_one_update() {
    let here = StandIns::new();
    here.put(
        "apt-get",
        "echo apt-get $* >>$HERE/said; test $1 = update && exit 0
         for name in $*; do case $name in
           nodejs) printf '#!/bin/sh\\necho v20.1.0\\n' >$HERE/node; : >$HERE/npm; /bin/chmod +x $HERE/node;;
           libnss3-tools) : >$HERE/certutil;;
         esac; done",
    );
    meet(&here.machine(true), &[Need::Node, Need::Certutil]).unwrap();
    let install = "apt-get install --yes --quiet --no-install-recommends";
    assert_eq!(
        here.said(),
        format!("apt-get update --quiet\n{install} nodejs npm\n{install} libnss3-tools\n")
    );
}

#[test]
fn the_quick_chromium_is_installed_where_we_may_and_no_other_is_chosen() {
    let here = StandIns::new();
    here.put("chromium", ":");
    here.put(
        "apt-get",
        "echo apt-get $* >>$HERE/said; test $1 = update || : >$HERE/chromium-headless-shell",
    );
    meet(&here.machine(false), &[Need::Chromium]).unwrap();
    assert_eq!(here.said(), "", "another Chromium does, where it is there");

    meet(&here.machine(true), &[Need::Chromium]).unwrap();
    assert!(here.said().ends_with(" chromium-headless-shell\n"));
    assert!(chromium(&here.machine(true)).is_some_and(|found| found.ends_with(HEADLESS)));
}

#[test]
fn the_first_of_what_is_lacking_is_said_with_how() {
    let here = StandIns::new();
    here.put("WebKitWebDriver", ":");
    let wanted = [Need::WebKitDriver, Need::Xvfb];
    let lacking = first_lacking(&here.machine(false), &wanted);
    assert!(lacking.is_some_and(|said| said.contains("apt-get install xvfb")));
    here.put("Xvfb", ":");
    assert_eq!(first_lacking(&here.machine(false), &wanted), None);
}

#[test]
fn what_cannot_be_installed_is_said_in_one_line_with_how() {
    let here = StandIns::new();
    here.put("rustc", "echo $HERE/wasm");
    here.put("rustup", "echo 'no network' >&2; exit 1");
    here.put("apt-get", "echo apt-get $* >>$HERE/said");
    let wanted = [Need::WasmTarget, Need::Certutil];
    let fault = meet(&here.machine(false), &wanted).unwrap_err().to_string();
    assert_eq!(fault.lines().count(), 1, "{fault}");
    for part in [
        "rustup target add wasm32-unknown-unknown",
        "apt-get install libnss3-tools",
    ] {
        assert!(fault.contains(part), "{fault}");
    }
    assert_eq!(here.said(), "", "nothing is installed where we may not");
}

#[test]
fn a_node_that_is_too_old_counts_as_none() {
    let here = StandIns::new();
    here.put("npm", ":");
    here.put("node", "echo v16.20.2");
    assert!(node(&here.machine(false)).is_none());
    here.put("node", "echo v18.0.0");
    assert!(node(&here.machine(false)).is_some());
}

#[test]
fn each_command_names_what_it_needs_before_it_compiles() {
    let names = |command: &str| crate::needs_of(command, &[]);
    for command in ["build", "site", "demo", "test", "bench", "lint"] {
        assert!(names(command).contains(&Need::WasmTarget), "{command}");
    }
    assert!(names("lint").contains(&Need::Clippy));
    assert!(names("test").contains(&Need::Chromium));
    let only = ["--only".to_owned(), "outside".to_owned()];
    assert!(!crate::needs_of("test", &only).contains(&Need::Chromium));
    assert!(names("help").is_empty());
}
