//! Licence expressions as packages write them: `MIT OR Apache-2.0`, `(A OR B) AND C`, and the older `A/B`.

/// Whether somebody who may use what `may` says can use a package with this licence.
pub fn is_met(expression: &str, may: &impl Fn(&str) -> bool) -> bool {
    let spaced = expression
        .replace('(', " ( ")
        .replace(')', " ) ")
        .replace('/', " OR ")
        .replace(" WITH ", "+");
    let mut words = spaced.split_whitespace().peekable();
    any(&mut words, may) && words.next().is_none()
}

type Words<'a> = std::iter::Peekable<std::str::SplitWhitespace<'a>>;

fn any(words: &mut Words<'_>, may: &impl Fn(&str) -> bool) -> bool {
    let mut met = all(words, may);
    while words.next_if_eq(&"OR").is_some() {
        met |= all(words, may);
    }
    met
}

fn all(words: &mut Words<'_>, may: &impl Fn(&str) -> bool) -> bool {
    let mut met = one(words, may);
    while words.next_if_eq(&"AND").is_some() {
        met &= one(words, may);
    }
    met
}

fn one(words: &mut Words<'_>, may: &impl Fn(&str) -> bool) -> bool {
    match words.next() {
        Some("(") => any(words, may) & words.next_if_eq(&")").is_some(),
        Some(name) => may(&name.replace('+', " WITH ")),
        None => false,
    }
}

#[cfg(test)]
mod tests {
    use super::is_met;

    #[test]
    fn an_expression_is_met_as_its_words_say() {
        let ours = |name: &str| ["MIT", "BSD-3-Clause", "A WITH B"].contains(&name);
        for (text, met) in [
            ("MIT", true),
            ("GPL-3.0", false),
            ("GPL-3.0 OR MIT", true),
            ("GPL-3.0/MIT", true),
            ("MIT AND GPL-3.0", false),
            ("(MIT OR GPL-3.0) AND BSD-3-Clause", true),
            ("A WITH B OR GPL-3.0", true),
            ("(MIT", false),
            ("MIT MIT", false),
            ("", false),
        ] {
            assert_eq!(is_met(text, &ours), met, "{text}");
        }
    }
}
