//! The answer of `cut-trials` as a table that a person reads: one strategy a line.

use serde_json::Value;

/// The lines of the table: rate in the band with its binomial error, under, over, minutes, cost, claim, worst z of the claims.
///
/// `answer` is an answer of `cut-trials`; none where it is not. Rates in percent, minutes with every further reading; a dash where a
/// strategy claims nothing or no prices were given.
pub fn table(answer: &Value) -> Option<Vec<String>> {
    let strategies = answer.get("strategies")?.as_array()?;
    let names: Vec<&str> = strategies.iter().map(|reached| reached.get("name")?.as_str()).collect::<Option<_>>()?;
    let widest = names.iter().map(|name| name.chars().count()).max().unwrap_or(0).max("strategy".len());
    let runs = strategies.first()?.get("n")?.as_u64()?;
    let from = answer.get("seed").and_then(Value::as_u64).map_or("written runs".into(), |seed| format!("fresh runs, seed {seed}"));
    let mut lines = vec![format!("{runs} {from}")];
    lines.push(format!(
        "{:<widest$}  {:>14}  {:>7}  {:>6}  {:>7}  {:>19}  {:>7}  {:>7}",
        "strategy", "in the band", "under", "over", "minutes", "cost", "claim", "worst z"
    ));
    for (name, reached) in names.iter().zip(strategies) {
        lines.push(line(name, reached, widest)?);
    }
    Some(lines)
}

fn line(name: &str, reached: &Value, widest: usize) -> Option<String> {
    let known = |key: &str| reached.get(key).and_then(Value::as_f64);
    let percent = |key: &str| known(key).map(|share| 100.0 * share);
    let dash = || "-".to_owned();
    let cost = known("cost").zip(known("cost_se")).map_or_else(dash, |(cost, se)| format!("{cost:.2} ± {se:.2}"));
    let claim = percent("claim_mean").map_or_else(dash, |claim| format!("{claim:.2}"));
    let worst = known("worst_z").map_or_else(dash, |z| format!("{z:+.1}"));
    Some(format!(
        "{name:<widest$}  {:>6.2} ± {:.2} %  {:>7.2}  {:>6.2}  {:>7.1}  {cost:>19}  {claim:>7}  {worst:>7}",
        percent("in_band")?,
        percent("in_band_se")?,
        percent("under")?,
        percent("over")?,
        known("minutes_with_readings")?,
    ))
}
