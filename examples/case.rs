use permil::{
    control::Control,
    files,
    problem::Problem,
    solve::{Method, propose},
};
use std::time::*;
fn main() {
    let secs: f64 = std::env::var("SECS").ok().and_then(|s| s.parse().ok()).unwrap_or(5.0);
    for path in std::env::args().skip(1) {
        let s = match files::load_scenario(path.as_ref()) {
            Ok(s) => s,
            Err(f) => {
                println!("{}", f.render(false));
                continue;
            }
        };
        let p = Problem::new(s.palette, &s.brief, &s.limits);
        let m = if std::env::var_os("SEARCH").is_some() { Method::Search } else { Method::Auto };
        let t = Instant::now();
        let c = Control { deadline: Some(t + Duration::from_secs_f64(secs)), ..Default::default() };
        match propose(&p, m, &c) {
            Ok(r) => println!(
                "{path}: {} {:.3}s loss {:?} bound {:?} nodes {} it {}",
                r.status.word(),
                t.elapsed().as_secs_f64(),
                r.answer.as_ref().map(|a| a.evaluation.loss),
                r.bound,
                r.nodes,
                r.iterations
            ),
            Err(e) => println!("{path}: {e}"),
        }
    }
}
