//! `summary` says what the choice costs and buys, `lookahead` what a plan may bring, in figures and in sentences.
#![expect(clippy::unwrap_used, reason = "a test's helpers fail the test by panicking")]

mod cli_run;

use cli_run::{Folder, without};
use serde_json::Value;
use wintercrib::demo;
use wintercrib::genetics::ahead::{Plan, Pollen, outlook, replicates};
use wintercrib::insight::{Insight, TraitShift};
use wintercrib::model::{Command, Document, KernelWay, Stamp};
use wintercrib::store::format;

fn price(folder: &Folder) -> Value {
    let ran = folder.run("summary p.ron --json").ends_with(0);
    serde_json::from_str::<Value>(&ran.out).unwrap()["price"].take()
}

#[test]
fn the_figures_are_those_of_the_selection_pane() {
    let folder = Folder::new();
    folder.run("demo essel-thaw --out p.ron").ends_with(0);
    let found = price(&folder);
    let document = Document::new(demo::make("essel-thaw").unwrap());
    let insight = Insight::default();
    let season = document.project().latest_season().unwrap().id;
    let expected = insight.price(&document, season, &insight.cutoffs(&document, season));
    let response = expected.response.unwrap();
    let kinship = expected.kinship.unwrap();
    for (key, figure) in [
        (
            "likely_differential_percent_points",
            expected.likely.difference().unwrap(),
        ),
        ("response_low_percent_points", response.low),
        ("response_high_percent_points", response.high),
        ("intensity_reached_standard_deviations", expected.reached.unwrap()),
        ("open_pollen_effective_size", kinship.open.effective_size()),
        (
            "closed_plot_inbreeding_per_season_percent",
            100.0 * kinship.closed.inbreeding(),
        ),
        (
            "maturity_explains_percent_points",
            expected.maturity.unwrap().explained,
        ),
    ] {
        let found = found[key].as_f64().unwrap();
        assert!((found - figure).abs() < 1e-9 * figure.abs(), "{key}: {found}");
    }
    let traits = found["traits"].as_array().unwrap();
    assert_eq!(traits.len(), expected.shifts.len());
    let flagged = traits.iter().filter(|one| one["comes_along_unasked"] == true);
    assert_eq!(flagged.count(), expected.comes_along().count());

    let page = folder.run("summary p.ron").ends_with(0).out;
    let said = expected.buys().into_iter().chain(expected.costs());
    for sentence in said
        .chain(expected.assumptions())
        .chain(expected.comes_along().map(TraitShift::sentence))
    {
        assert!(page.contains(&sentence), "'{sentence}' is not in\n{page}");
    }
}

#[test]
fn the_kernels_of_each_ear_are_those_of_the_selection_pane() {
    let mut document = Document::new(demo::make("essel-thaw").unwrap());
    let season = document.project().latest_season().unwrap().id;
    let insight = Insight::default();
    let cutoffs = insight.cutoffs(&document, season);
    let equal = insight.shares(&document, season, &cutoffs).equal.unwrap();
    let set = Command::SetKernels {
        season,
        way: KernelWay::SharedOut(equal.coancestry),
    };
    let stamp = Stamp {
        at: jiff::civil::date(2026, 2, 1).at(8, 0, 0, 0),
        by: String::new(),
    };
    document.run(&set, &stamp).unwrap();
    let expected = insight.shares(&document, season, &cutoffs);
    let folder = Folder::with(&format::write(document.project()).unwrap());
    let ran = folder.run("summary p.ron --json").ends_with(0);
    let found = serde_json::from_str::<Value>(&ran.out).unwrap()["shares"].take();
    let shared = expected.shared.unwrap();
    for (key, figure) in [
        ("likely_percent", shared.likely_percent),
        (
            "effective_size",
            expected.effective_size(shared.coancestry).unwrap(),
        ),
    ] {
        let found = found["shared_out"][key].as_f64().unwrap();
        assert!((found - figure).abs() < 1e-9 * figure, "{key}: {found}");
    }
    let kernels = found["ears"].as_array().unwrap().iter();
    let kernels: u64 = kernels
        .map(|ear| ear["shared_out_kernels"].as_u64().unwrap())
        .sum();
    assert_eq!(kernels, u64::from(expected.kernels));
    let page = folder.run("summary p.ron").ends_with(0).out;
    for sentence in expected.sentences() {
        assert!(page.contains(&sentence), "'{sentence}' is not in\n{page}");
    }
}

#[test]
fn the_kernels_for_a_stand_are_those_of_the_selection_pane() {
    let mut document = Document::new(demo::make("essel-thaw").unwrap());
    let season = document.project().latest_season().unwrap().id;
    let at = jiff::civil::date(2026, 2, 1).at(8, 0, 0, 0);
    let stamp = Stamp {
        at,
        by: String::new(),
    };
    let page = |document: &Document| {
        let folder = Folder::with(&format::write(document.project()).unwrap());
        let ran = folder.run("summary p.ron --json").ends_with(0);
        let json: Value = serde_json::from_str(&ran.out).unwrap();
        (json, folder.run("summary p.ron").ends_with(0).out)
    };
    assert!(
        page(&document).0["kernels_for_a_stand"].is_null(),
        "equal kernels are the way"
    );
    let way = KernelWay::ForAStand;
    document
        .run(&Command::SetKernels { season, way }, &stamp)
        .unwrap();
    let insight = Insight::default();
    let cutoffs = insight.cutoffs(&document, season);
    let expected = insight.sowings(&document, season, &cutoffs);
    let expected = Option::as_ref(&expected).unwrap();
    let (json, text) = page(&document);
    let found = &json["kernels_for_a_stand"];
    let keys = |value: &Value| {
        value
            .as_object()
            .unwrap()
            .keys()
            .cloned()
            .collect::<Vec<_>>()
            .join(" ")
    };
    assert_eq!(
        keys(found),
        "ears field_factor_share kernels refusal sentences taken_for_granted wanted_plants wanted_probability"
    );
    assert_eq!(
        keys(&found["ears"][0]),
        "above_remnant_kernels likely_90_high_plants likely_90_low_plants likely_plants limited_by needed_kernels number \
         plant_kernels sure_plants wanted_plants_probability"
    );
    assert_eq!(
        (&found["wanted_plants"], &found["wanted_probability"]),
        (&20.into(), &0.9.into())
    );
    assert_eq!(found["kernels"].as_u64(), Some(expected.kernels()));
    for (found, one) in found["ears"].as_array().unwrap().iter().zip(&expected.ears) {
        assert_eq!(found["number"].as_u64(), Some(u64::from(one.number)));
        assert_eq!(found["plant_kernels"].as_u64(), Some(u64::from(one.plant)));
        assert_eq!(found["needed_kernels"].as_u64(), one.told.needed.map(u64::from));
    }
    assert_eq!(json["choice"]["kernels_ready"].as_u64(), {
        let counted = expected.ears.iter().filter(|one| one.above.is_some());
        Some(counted.map(|one| u64::from(one.plant)).sum())
    });
    for sentence in expected
        .sentences()
        .iter()
        .chain([&expected.way(), &expected.assumptions()])
    {
        assert!(text.contains(sentence), "'{sentence}' is not in\n{text}");
    }
    // Never two ways side by side.
    assert!(!text.contains("Equal kernels of") && text.contains("equally many plants of every kept ear"));
}

#[test]
fn what_cannot_be_told_is_null() {
    let nothing_counted = price(&Folder::with(&without("counts")));
    for key in [
        "kept_likely",
        "likely_differential_percent_points",
        "intensity_reached_standard_deviations",
        "response_low_percent_points",
        "heritability_high_share",
        "maturity_explains_share",
    ] {
        assert!(nothing_counted[key].is_null(), "{key}: {}", nothing_counted[key]);
    }
    assert_eq!(nothing_counted["scored_ears"], 0);
    assert_eq!(
        nothing_counted["it_buys"][0],
        "No scored ear is kept, so there is nothing to gain by germination."
    );
}

#[test]
fn a_look_ahead_says_the_figures_of_the_simulation_and_is_repeatable() {
    let folder = Folder::new();
    folder.run("demo essel-thaw --out p.ron").ends_with(0);
    let line =
        "lookahead p.ron --seasons 3 --replicates 23 --seed 9 --kept 30 --cap none --pollen all-bulk --json";
    let first = folder.run(line).ends_with(0).out;
    assert_eq!(first, folder.run(line).ends_with(0).out);
    let page: Value = serde_json::from_str(&first).unwrap();
    let keys = |value: &Value| {
        let keys = value.as_object().unwrap().keys().cloned();
        keys.collect::<Vec<_>>().join(" ")
    };
    assert_eq!(
        keys(&page),
        "effective_size plan population program_version project project_id replicates season_year seasons seed sentences \
         taken_for_granted"
    );
    assert_eq!(
        keys(&page["plan"]),
        "cap_ears_of_a_mother_row cutoff_percent ears_kept_at_most ears_tested evenness_percent foreign_pollen_percent \
         kernels_of_an_ear passing_other_limits_percent plants_of_a_kept_ear pollen seasons sentence sureness_probability"
    );
    assert_eq!(
        keys(&page["population"]),
        "ears_deviation_logits heritability_high_share heritability_low_share inherited_high_share inherited_low_share \
         kernels_of_one_ear_correlation mean_logit mother_rows"
    );
    assert_eq!(
        keys(&page["seasons"][3]),
        "additive_variance_left_share coancestry ears_kept_before effective_size gain_percent_points genetic_value_logits \
         germination_percent inbreeding_percent lines_of_mothers_left mother_rows_kept_before season \
         too_few_ears_share_of_replicates too_few_kept_share_of_replicates"
    );
    assert_eq!(
        keys(&page["seasons"][3]["inbreeding_percent"]),
        "at_50_percent_of_replicates at_5_percent_of_replicates at_95_percent_of_replicates mean"
    );
    let document = Document::new(demo::make("essel-thaw").unwrap());
    let insight = Insight::default();
    let season = document.project().latest_season().unwrap().id;
    let ahead = insight.ahead(&document, season, &insight.cutoffs(&document, season));
    let start = ahead.start.as_ref().unwrap();
    let plan = Plan {
        seasons: 3,
        kept: 30,
        cap: None,
        pollen: Pollen::BulkOfAll,
        ..start.plan
    };
    let found = outlook(&replicates(&start.population, &plan, 9, 0..23).unwrap()).unwrap();
    let told = page["seasons"][3]["germination_percent"]["mean"]
        .as_f64()
        .unwrap();
    assert!((told - found.seasons[3].germination_percent.mean).abs() < 1e-12);
    assert!(page["plan"]["cap_ears_of_a_mother_row"].is_null());
    folder
        .run("lookahead p.ron --seasons 21")
        .refuses(2, &["The number of seasons cannot be 21: give 1 to 20"]);
    folder
        .run("lookahead p.ron --cutoff high")
        .refuses(2, &["--cutoff 'high' cannot be used", "or none"]);
    folder
        .run("lookahead p.ron --replicates 0")
        .refuses(2, &["0 replicates cannot be run"]);
    folder
        .run("lookahead p.ron --kept 900")
        .refuses(2, &["ears cannot be kept"]);
}
