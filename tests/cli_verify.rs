//! `permil verify`, and `propose --certificate`, as a user meets them.

mod support;

use support::program::{Folder, permil};

#[test]
fn as_a_user_meets_it() {
    let folder = Folder::of(&[]);
    let path = |name: &str| folder.path(name);
    let brief = "profiles/rose-otto/brief.toml";
    let (best, proof) = (path("best.toml"), path("best.proof"));
    let arguments = ["propose", brief, "--no-worth", "--save", &best, "--certificate", &proof];
    permil(&arguments).ended(0);
    let verified = permil(&["verify", brief, &best, &proof]).ended(0);
    let text = verified.stdout.lines().filter(|line| !line.contains("divided into")).collect::<Vec<_>>().join("\n");
    insta::assert_snapshot!("verified", text);
    let json = permil(&["verify", brief, &best, &proof, "--format", "json"]).ended(0).json();
    assert_eq!(json["status"], "proven");
    assert!(json["parts_closed"].as_u64().is_some_and(|parts| parts > 1));
    let csv = permil(&["verify", brief, &best, &proof, "--format", "csv"]).ended(0).stdout;
    assert!(csv.starts_with("status,loss,fidelity,bound,bound_fidelity,parts_closed,faults\nproven,"), "{csv}");

    // Another formula is not the best; another brief is another question.
    let other = permil(&["verify", brief, "profiles/rose-otto/mod-1.toml", &proof]).ended(1);
    assert!(other.stdout.contains("does not prove"), "{}", other.stdout);
    let elsewhere = permil(&["verify", "profiles/six-materials/brief.toml", &proof]).ended(1);
    assert!(elsewhere.stdout.contains("about other materials"), "{}", elsewhere.stdout);

    // No blend at all.
    let cannot = "tests/reference/cases/17-infeasible-budget/brief.toml";
    let none = path("none.proof");
    permil(&["propose", cannot, "--certificate", &none, "--quiet"]).ended(1);
    let verified = permil(&["verify", cannot, &none]).ended(0);
    assert!(verified.stdout.contains("No blend can meet this brief"), "{}", verified.stdout);

    // Nothing but an older certificate is overwritten.
    permil(&arguments[..3]).ended(0);
    permil(&["propose", brief, "--no-worth", "--certificate", &proof]).ended(0);
    let refused = permil(&["propose", brief, "--no-worth", "--certificate", &best]).ended(2);
    assert!(refused.stderr.contains("exists already"), "{}", refused.stderr);
    let unreadable = permil(&["verify", brief, &best, &best]).ended(2);
    assert!(unreadable.stderr.contains("is no certificate: line 1"), "{}", unreadable.stderr);
    permil(&["verify", brief, &best, "missing.proof"]).ended(2);
    insta::assert_snapshot!("help", permil(&["verify", "--help"]).ended(0).stdout);
}
