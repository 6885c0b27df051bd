//! Procedure files: every kind of mistake told with file, line and step; identity; card; differences.

use procedure::*;

const HEAD: &str = "slug = \"x\"\ntitle = \"X\"\nedition = \"1\"\npurpose = \"For tests.\"\n";
const STEP: &str = "[[step]]\nid = \"a\"\ndo = \"Do a\"\n";

fn mistakes(text: &str) -> Vec<String> {
    match parse("x.toml", text) {
        Ok(_) => Vec::new(),
        Err(mistakes) => mistakes.iter().map(ToString::to_string).collect(),
    }
}

/// What is added after four lines of head and the three lines of a sound step "a", and what is said of it.
#[rustfmt::skip]
const IN_A_STEP: &[(&str, &str)] = &[
    ("[[step]]\nid = \"a\"\ndo = \"again\"\n", "x.toml:9: step \"a\": two steps have the id \"a\""),
    ("[[step]]\ndo = \"b\"\n", "x.toml:8: 'id' is missing"),
    ("[[step]]\nid = \"b\"\n", "x.toml:8: step \"b\": 'do' is missing"),
    ("[[step]]\nid = \"B b\"\ndo = \"b\"\n", "x.toml:9: step \"B b\": 'id' is \"B b\": only small letters, digits and hyphens"),
    ("[[step]]\nid = \"b\"\ndo = \"\"\n", "x.toml:10: step \"b\": 'do' is empty"),
    ("[[step]]\nid = \"b\"\ndo = 3\n", "x.toml:10: step \"b\": 'do' must be text in quotes"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nkind = \"tick\"\n", "x.toml:11: step \"b\": 'kind' must be one of \"confirm\", \"reading\", \"choice\", \"count\", \"position\", \"text\", \"photo\", \"hold\", \"wait\", \"log\", \"people\", \"timer\", \"item\", \"names\", \"each\", not \"tick\""),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nwhy_not = \"c\"\n", "x.toml:11: step \"b\": 'why_not' is not known here; known are "),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nafter = [\"c\"]\n[[step]]\nid = \"c\"\ndo = \"c\"\n", "x.toml:11: step \"b\": 'after' names \"c\", but no earlier step has that id"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nafter = [\"b\"]\n", "x.toml:11: step \"b\": 'after' names \"b\", but no earlier step has that id"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nafter = \"a\"\n", "x.toml:11: step \"b\": 'after' must be a list, such as [\"…\"]"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\ncautions = [\"\"]\n", "x.toml:11: step \"b\": 'cautions' must hold texts in quotes, none empty"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nstands_on = [\"z\"]\n", "x.toml:11: step \"b\": 'stands_on' names \"z\", but no earlier step has that id"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nother_than = [\"z\"]\n", "x.toml:11: step \"b\": 'other_than' names \"z\", but no earlier step has that id"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nsecond = \"yes\"\n", "x.toml:11: step \"b\": 'second' must be true, false or \"later\""),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nsecond = \"soon\"\n", "x.toml:11: step \"b\": 'second' must be true, false or \"later\""),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nsecond = \"later\"\ngood_for = \"1 h\"\n", "x.toml:11: step \"b\": a second signs later only where nobody is inside"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nkind = \"people\"\nsecond = \"later\"\n", "x.toml:12: step \"b\": a second signs later only where nobody is inside"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nkind = \"hold\"\nconsent = \"officer\"\nsecond = \"later\"\n", "x.toml:13: step \"b\": a hold takes no second person's signature"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nagain = true\nsecond = true\n", "x.toml:11: step \"b\": 'again' is for what is confirmed or chosen"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nagain = true\non_fault = \"stop\"\n", "x.toml:11: step \"b\": 'again' is for what is confirmed or chosen"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nkind = \"text\"\nagain = true\n", "x.toml:12: step \"b\": 'again' is for what is confirmed or chosen"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nby = \"cook\"\n", "x.toml:11: step \"b\": 'by' must be one of \"crew\", \"officer\", \"master\", not \"cook\""),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\ngood_for = \"soon\"\n", "x.toml:11: step \"b\": 'good_for' must be a time such as \"90 s\", \"30 min\", \"8 h\", \"7 d\", or \"setting:…\" or \"computed:…\""),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\ngood_for = \"0 min\"\n", "x.toml:11: step \"b\": 'good_for' must be a time "),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\non_fault = \"cry\"\n", "x.toml:11: step \"b\": 'on_fault' must be one of \"note\", \"officer\", \"stop\", not \"cry\""),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nkind = \"reading\"\n", "x.toml:8: step \"b\": a reading needs at least one [[step.point]]"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nkind = \"reading\"\n[[step.point]]\nkey = \"p\"\n", "x.toml:12: step \"b\": 'label' is missing"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nkind = \"reading\"\n[[step.point]]\nkey = \"p\"\nlabel = \"p\"\nmin = \"twenty\"\n", "x.toml:15: step \"b\": 'min' must be a number of at most 18 digits, \"setting:…\", \"computed:…\" or \"reading:STEP/POINT\""),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nkind = \"reading\"\n[[step.point]]\nkey = \"p\"\nlabel = \"p\"\nmin = 3\nmax = 2\n", "x.toml:12: step \"b\": the limits 3 and 2 leave no number between them"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nkind = \"reading\"\n[[step.point]]\nkey = \"p\"\nlabel = \"p\"\nmin = 3\nabove = 2\n", "x.toml:12: step \"b\": 'min' and 'above' are both given; one lower limit is enough"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nkind = \"reading\"\n[[step.point]]\nkey = \"p\"\nlabel = \"p\"\nmax = 3\nbelow = 2\n", "x.toml:12: step \"b\": 'max' and 'below' are both given; one upper limit is enough"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nkind = \"reading\"\n[[step.point]]\nkey = \"p\"\nlabel = \"p\"\n[[step.point]]\nkey = \"p\"\nlabel = \"q\"\n", "x.toml:16: step \"b\": two points have the key \"p\""),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nkind = \"choice\"\n[[step.option]]\nkey = \"p\"\nlabel = \"p\"\n", "x.toml:8: step \"b\": a choice needs at least two [[step.option]]"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nkind = \"choice\"\n[[step.option]]\nkey = \"p\"\nlabel = \"p\"\n[[step.option]]\nkey = \"p\"\nlabel = \"q\"\n", "x.toml:16: step \"b\": two options have the key \"p\""),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nkind = \"count\"\n", "x.toml:8: step \"b\": 'of' is missing"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nkind = \"count\"\nof = \"pins\"\nsame_as = \"a\"\n", "x.toml:13: step \"b\": 'same_as' names \"a\", which is not a count"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nkind = \"hold\"\n", "x.toml:8: step \"b\": a hold needs 'consent': \"officer\" or \"master\""),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nkind = \"hold\"\nconsent = \"crew\"\n", "x.toml:12: step \"b\": 'consent' must be one of \"officer\", \"master\", not \"crew\""),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nkind = \"hold\"\nconsent = \"officer\"\nskip = \"officer\"\n", "x.toml:13: step \"b\": a hold can never be left out; take 'skip' away"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nkind = \"hold\"\nconsent = \"officer\"\nsecond = true\n", "x.toml:13: step \"b\": a hold takes no second person's signature"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nkind = \"hold\"\nconsent = \"officer\"\nby = \"crew\"\n", "x.toml:13: step \"b\": a hold names who may pass it with 'consent', not 'by'"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nkind = \"wait\"\n", "x.toml:8: step \"b\": a wait needs 'for', such as \"10 min\""),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nkind = \"wait\"\nfor = \"1 h\"\nfrom = \"z\"\n", "x.toml:13: step \"b\": 'from' names \"z\", but no earlier step has that id"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nkind = \"wait\"\nfor = \"1 h\"\ngood_for = \"1 h\"\n", "x.toml:13: step \"b\": a wait has no result that could go stale"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nkind = \"people\"\nat_least = -1\n", "x.toml:12: step \"b\": 'at_least' must be a whole number, 0 or more"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nrenewed_by = [\"a\"]\n", "x.toml:11: step \"b\": a confirm cannot be renewed; only a reading can"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nkind = \"reading\"\ngood_for = \"1 h\"\nrenewed_by = [\"a\"]\n[[step.point]]\nkey = \"p\"\nlabel = \"p\"\n", "x.toml:8: step \"b\": 'renewed_by' names \"a\", but no step of that id reads the same points"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nwhen = { choice = \"a\", is = [\"x\"] }\n", "x.toml:11: step \"b\": 'when' names the choice \"a\", but no earlier step of kind choice has that id"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nwhen = { choice = \"a\" }\n", "x.toml:11: step \"b\": 'when' needs 'is', a list"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nwhen = { setting = \"a\", is = [\"x\"] }\n", "x.toml:11: step \"b\": 'is' must be a list of numbers"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nwhen = { is = [\"x\"] }\n", "x.toml:11: step \"b\": 'when' names either a choice, a setting or a kind of gear"),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nneeds = [{ procedure = \"y\" }]\n", "x.toml:11: step \"b\": 'needs' takes either state = \"none-open\" or closed_within = \"…\""),
    ("[[step]]\nid = \"b\"\ndo = \"b\"\nneeds = [3]\n", "x.toml:11: step \"b\": 'needs' must hold tables"),
];

#[test]
fn every_mistake_in_a_step_is_told_with_file_line_and_step() {
    assert_eq!(mistakes(&format!("{HEAD}{STEP}")), Vec::<String>::new());
    for (added, said) in IN_A_STEP {
        let found = mistakes(&format!("{HEAD}{STEP}{added}"));
        assert!(
            found.iter().any(|mistake| mistake.starts_with(said)),
            "{added}\nwanted: {said}\nfound: {found:#?}"
        );
    }
}

/// Names of what stands outside the file, which must be there; the second half says what is known.
#[rustfmt::skip]
const NAMES: &[(&str, &str)] = &[
    ("kind = \"reading\"\n[[step.point]]\nkey = \"p\"\nlabel = \"p\"\nmin = \"setting:air_o2_mim\"\n", "x.toml:12: step \"a\": 'min' names the setting \"air_o2_mim\", which does not exist; known are air_o2_min, air_o2_max, "),
    ("kind = \"reading\"\n[[step.point]]\nkey = \"p\"\nlabel = \"p\"\nmax = \"computed:cable\"\n", "x.toml:12: step \"a\": 'max' names the computed value \"cable\", but no limit is computed; give a number or a setting"),
    ("kind = \"count\"\nof = \"pins\"\nabove = \"setting:pins\"\n", "x.toml:10: step \"a\": 'above' names the setting \"pins\", which does not exist; known are "),
    ("good_for = \"setting:permit\"\n", "x.toml:8: step \"a\": 'good_for' names the setting \"permit\", which does not exist; known are "),
    ("good_for = \"setting:ba_min\"\n", "x.toml:8: step \"a\": 'good_for' names the setting \"ba_min\", which is no length of time"),
    ("good_for = \"computed:vent\"\n", "x.toml:8: step \"a\": 'good_for' names the computed value \"vent\", which does not exist; known are vent_time"),
    ("kind = \"log\"\nevery = \"setting:watch\"\n", "x.toml:9: step \"a\": 'every' names the setting \"watch\", which does not exist; known are "),
    ("kind = \"people\"\ncall_every = \"setting:call\"\n", "x.toml:9: step \"a\": 'call_every' names the setting \"call\", which does not exist; known are "),
    ("when = { setting = \"shared\", is = [1] }\n", "x.toml:8: step \"a\": 'when' names the setting \"shared\", which does not exist; known are "),
    ("needs = [{ procedure = \"locker\", state = \"none-open\" }]\n", "x.toml:8: step \"a\": 'needs' names the procedure \"locker\", which does not exist; known are locker-entry, anchors-ready, "),
    ("needs = [{ procedure = \"hose-test\", closed_within = \"setting:year\" }]\n", "x.toml:8: step \"a\": 'closed_within' names the setting \"year\", which does not exist; known are "),
];

#[test]
fn a_name_that_does_not_exist_is_a_mistake_but_what_is_on_record_is_read() {
    for (added, said) in NAMES {
        let text = format!("{HEAD}{STEP}{added}");
        let found = mistakes(&text);
        assert_eq!(found.len(), 1, "{found:#?}");
        assert!(
            found[0].starts_with(said),
            "wanted: {said}\nfound: {found:#?}"
        );
        assert!(parse_on_record("x.toml", &text).is_ok(), "{added}");
    }
    let round = format!("{HEAD}every = \"computed:vent_time\"\n{STEP}");
    assert_eq!(
        mistakes(&round),
        [
            "x.toml:5: 'every' names the computed value \"vent_time\", which does not exist; there are none here"
        ]
    );
}

#[test]
fn a_procedure_may_need_itself_and_the_ships_own_procedures() {
    let needs = |slug: &str| {
        format!("{HEAD}{STEP}needs = [{{ procedure = \"{slug}\", state = \"none-open\" }}]\n")
    };
    assert_eq!(mistakes(&needs("x")), Vec::<String>::new());
    assert_eq!(mistakes(&needs("tender-launch")).len(), 1);
    let aboard = parse_aboard("x.toml", &needs("tender-launch"), &["tender-launch"]);
    assert!(aboard.is_ok());
    let other = parse_aboard("x.toml", &needs("tender"), &["tender-launch"]).unwrap_err();
    assert!(other[0].to_string().ends_with(", tender-launch"));
}

#[test]
fn a_library_file_is_named_after_its_procedure() {
    let all = library::all();
    let slugs: Vec<&str> = all.iter().map(Procedure::slug).collect();
    assert_eq!(slugs, library::slugs().collect::<Vec<_>>());
}

#[test]
fn mistakes_in_the_head_are_told_with_their_line() {
    let of = |text: &str| mistakes(text).join("\n");
    assert_eq!(of(HEAD), "x.toml:1: there is no [[step]]");
    assert!(
        of(&format!("{HEAD}close_by = \"cook\"\n{STEP}"))
            .starts_with("x.toml:5: 'close_by' must be one of")
    );
    assert!(
        of(&format!("{HEAD}every = \"often\"\n{STEP}"))
            .starts_with("x.toml:5: 'every' must be a time")
    );
    assert!(
        of(&format!("{HEAD}colour = \"red\"\n{STEP}"))
            .starts_with("x.toml:5: 'colour' is not known here")
    );
    assert_eq!(
        of(&HEAD
            .replace("title = \"X\"\n", "")
            .replace("edition", "title = \"\"\nedition")
            .as_str()
            .to_owned()
            .replace(
                "purpose = \"For tests.\"",
                &format!("purpose = \"p\"\n{STEP}")
            )),
        "x.toml:2: 'title' is empty"
    );
    assert_eq!(
        of(&format!("slug = \"x\"\n{STEP}")),
        "x.toml:1: 'title' is missing\nx.toml:1: 'edition' is missing\nx.toml:1: 'purpose' is missing"
    );
}

#[test]
fn what_is_not_toml_is_told_with_its_line() {
    let found = mistakes(&format!("{HEAD}[[step]]\nid = \"a\ndo = \"b\"\n"));
    assert!(found[0].starts_with("x.toml:6: not TOML: "), "{found:#?}");
}

#[test]
fn all_mistakes_are_told_at_once_in_the_order_of_the_lines() {
    let text = format!(
        "{HEAD}{STEP}[[step]]\nid = \"b\"\nkind = \"hold\"\n[[step]]\nid = \"c\"\ndo = \"c\"\nafter = [\"z\"]\n"
    );
    let found = mistakes(&text);
    let lines: Vec<_> = found
        .iter()
        .map(|mistake| mistake.split(':').nth(1).unwrap_or_default())
        .collect();
    assert_eq!(lines, ["8", "8", "14"], "{found:#?}");
}

#[test]
fn the_identity_is_what_the_file_says_and_not_how_it_looks() {
    let plain = parse("a.toml", &format!("{HEAD}{STEP}")).unwrap();
    let other = parse(
        "b.toml",
        &format!("# a comment\n{}\n\n{STEP}", HEAD.replace(" = ", "=")),
    )
    .unwrap();
    assert_eq!(plain.hash(), other.hash());
    let changed = parse(
        "a.toml",
        &format!("{HEAD}{}", STEP.replace("Do a", "Do  a")),
    )
    .unwrap();
    assert_ne!(plain.hash(), changed.hash());
}

#[test]
fn every_procedure_of_the_library_has_an_identity_of_its_own_and_goes_through_cbor() {
    let all = library::all();
    for (i, procedure) in all.iter().enumerate() {
        assert!(
            all[..i]
                .iter()
                .all(|other| other.hash() != procedure.hash()),
            "{}",
            procedure.slug()
        );
        let again: Procedure = minicbor::decode(&procedure.to_cbor()).unwrap();
        assert_eq!(&again, procedure);
    }
}

#[test]
fn every_setting_that_the_library_names_has_a_default_with_its_source() {
    let settings = Settings::defaults();
    let span = |span: &Span| match span {
        Span::Setting(key) => assert!(
            settings.get(key).is_some_and(|set| set.span_ms().is_some()),
            "{key}"
        ),
        Span::Fixed(_) | Span::Computed(_) => {}
    };
    for procedure in library::all() {
        procedure.every().into_iter().for_each(span);
        for step in procedure.steps() {
            step.good_for.iter().for_each(span);
            let required = step.kind.requirement();
            required.every.into_iter().for_each(span);
            if let What::Time { span: time, .. } = required.what {
                span(time);
            }
            for point in required.points {
                let limits = point.limits.resolve(&settings, &point.unit);
                // What the run itself reads first is known only there.
                let not_set = limits
                    .unknown
                    .iter()
                    .filter(|key| !key.starts_with("by what"));
                assert_eq!(not_set.count(), 0, "{}: {:?}", step.id, limits.unknown);
            }
        }
    }
    for (key, set) in settings.iter() {
        assert!(
            !set.source.is_empty() && !set.edition.is_empty() && !set.confirmed,
            "{key}"
        );
        assert!(Settings::words(key).is_some());
    }
}

#[test]
fn the_card_escapes_everything_and_shows_limits_as_numbers_with_their_source() {
    let text = format!(
        "{}{STEP}",
        HEAD.replace("\"X\"", "'<b>\"X\" & co</b>'")
            .replace("For tests.", "1 < 2")
    );
    let read = "kind = \"reading\"\n[[step.point]]\nkey = \"o2\"\nlabel = \"<o2>\"\nunit = \"%\"\nmin = \"setting:air_o2_min\"\n";
    let procedure = parse("x.toml", &format!("{text}{read}")).unwrap();
    let card = card::html(&procedure, &Settings::defaults());
    assert!(
        card.contains("&lt;b&gt;&quot;X&quot; &amp; co&lt;/b&gt;") && card.contains("1 &lt; 2")
    );
    assert!(!card.contains("<b>") && !card.contains("<o2>"));
    assert!(card.contains("<td>at least 20.9 %</td>"));
    assert!(card.contains("IMO MSC.581(110)") && card.contains("not yet confirmed by the master"));
}

#[test]
fn every_card_of_the_library_closes_what_it_opens_and_shows_every_step() {
    for procedure in library::all() {
        let card = card::html(&procedure, &Settings::defaults());
        for tag in [
            "article", "header", "h1", "h2", "ol", "ul", "li", "table", "tr", "td", "th", "p",
            "strong", "section", "footer",
        ] {
            let opened = card.matches(&format!("<{tag}>")).count()
                + card.matches(&format!("<{tag} ")).count();
            assert_eq!(
                opened,
                card.matches(&format!("</{tag}>")).count(),
                "{}: {tag}",
                procedure.slug()
            );
        }
        assert_eq!(
            card.matches("class=\"card-step\"").count(),
            procedure.steps().len()
        );
        let holds = procedure
            .steps()
            .iter()
            .filter(|step| matches!(step.kind, Kind::Hold { .. }))
            .count();
        assert_eq!(card.matches("HOLD:").count(), holds);
        assert!(
            !card.contains("setting:") && !card.contains("not set"),
            "{}",
            procedure.slug()
        );
    }
}

#[test]
fn a_ships_copy_is_shown_against_the_library_step_by_step() {
    let steps = "[[step]]\nid = \"a\"\ndo = \"Do a\"\nafter = []\n[[step]]\nid = \"b\"\ndo = \"Do b\"\nafter = []\n[[step]]\nid = \"c\"\ndo = \"Do c\"\nafter = []\n";
    let library = parse("x.toml", &format!("{HEAD}{steps}")).unwrap();
    assert_eq!(diff(&library, &library), Vec::new());
    let copy = "[[step]]\nid = \"c\"\ndo = \"Do c\"\nafter = []\n[[step]]\nid = \"a\"\ndo = \"Do a well\"\nafter = []\nsecond = true\n[[step]]\nid = \"d\"\ndo = \"Do d\"\nafter = []\n";
    let ship = parse(
        "x.toml",
        &format!(
            "{}{copy}",
            HEAD.replace("edition = \"1\"", "edition = \"2\"")
        ),
    )
    .unwrap();
    let changed = |part: &str, from: &str, to: &str| Change::Changed {
        part: part.into(),
        from: from.into(),
        to: to.into(),
    };
    let expected = [
        (None, changed("edition", "1", "2")),
        (Some("c"), Change::Moved),
        (Some("a"), changed("do", "Do a", "Do a well")),
        (Some("a"), changed("second person", "", "must sign")),
        (
            Some("d"),
            Change::Added {
                instruction: "Do d".into(),
            },
        ),
        (
            Some("b"),
            Change::Removed {
                instruction: "Do b".into(),
            },
        ),
    ];
    let expected: Vec<_> = expected
        .into_iter()
        .map(|(step, change)| Difference {
            step: step.map(StepId::from),
            change,
        })
        .collect();
    assert_eq!(diff(&library, &ship), expected);
}

/// Splits into sentences, and counts the words of each.
fn sentences(text: &str) -> impl Iterator<Item = (usize, &str)> {
    let ends = |c: char| matches!(c, '.' | ':' | ';' | '?');
    let parts = text.split_inclusive(ends);
    parts.map(|part| (part.split_whitespace().count(), part.trim()))
}

/// Read once, in a wind, by someone whose third language it is.
#[test]
fn every_instruction_is_short_and_no_sentence_is_long() {
    let mut long = Vec::new();
    for procedure in library::all() {
        let mut texts = vec![procedure.purpose().to_owned()];
        texts.extend(procedure.cautions().iter().cloned());
        for step in procedure.steps() {
            let words = step.instruction.split_whitespace().count();
            if words > 12 {
                long.push(format!("{}: {words} words: {}", step.id, step.instruction));
            }
            texts.push(step.why.clone());
            texts.extend(step.how().iter().chain(&step.cautions).cloned());
            texts.extend(
                step.kind
                    .options()
                    .iter()
                    .map(|option| option.label.clone()),
            );
        }
        for text in &texts {
            let found = sentences(text).filter(|(words, _)| *words > 18);
            long.extend(
                found.map(|(words, part)| format!("{}: {words} words: {part}", procedure.slug())),
            );
        }
    }
    assert_eq!(long, Vec::<String>::new());
}
