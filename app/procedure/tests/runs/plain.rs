//! One procedure with a step of most kinds.

pub const PLAIN: &str = r#"
slug = "plain"
title = "Plain"
edition = "1"
purpose = "For tests."

[[step]]
id = "look"
do = "Look"

[[step]]
id = "oxygen"
do = "Measure"
kind = "reading"
on_fault = "officer"
[[step.point]]
key = "o2"
label = "oxygen"
unit = "%"
min = "setting:air_o2_min"

[[step]]
id = "gas"
do = "Measure gas"
kind = "reading"
on_fault = "stop"
skip = "never"
after = ["look"]
[[step.point]]
key = "co2"
label = "carbon dioxide"
unit = "%"
below = 0.5

[[step]]
id = "may"
do = "Wait for the officer"
kind = "hold"
consent = "officer"
after = ["oxygen", "gas"]

[[step]]
id = "way"
do = "Choose"
kind = "choice"
after = ["look"]
[[step.option]]
key = "left"
label = "left"
[[step.option]]
key = "right"
label = "right"

[[step]]
id = "left-work"
do = "Work left"
when = { choice = "way", is = ["left"] }

[[step]]
id = "pins-in"
do = "Count in"
kind = "count"
of = "pins"
after = []

[[step]]
id = "pins-out"
do = "Count out"
kind = "count"
of = "pins"
same_as = "pins-in"

[[step]]
id = "brake"
do = "Set the brake"
second = true
after = []
gear = ["brake"]
"#;
