//! Every verb of the real program, and what it leaves on the disk.
#![expect(clippy::unwrap_used, reason = "a test's helpers fail the test by panicking")]

mod cli_run;

use std::io::Read as _;
use std::process::Stdio;

use cli_run::{Folder, SAMPLE, changed, without};
use serde_json::Value;
use wintercrib::store::{digest_hex, project_file};

fn json(folder: &Folder, line: &str) -> Value {
    let ran = folder.run(line).ends_with(0);
    serde_json::from_str(&ran.out).unwrap()
}

// ---- the command line --------------------------------------------------------------------------------------

#[test]
fn without_a_display_one_sentence_names_the_verbs() {
    let folder = Folder::with(SAMPLE);
    for line in ["", "p.ron"] {
        let ran = folder.run_untouched(line).refuses(2, &["display"]);
        assert_eq!(ran.said.lines().count(), 1, "{ran:?}");
        for verb in [
            "check",
            "summary",
            "storage",
            "compare",
            "bring",
            "lookahead",
            "log",
            "import",
            "export",
            "print",
            "pack",
            "unpack",
            "demo",
            "help",
        ] {
            assert!(ran.said.contains(verb), "{ran:?}");
        }
    }
}

#[test]
fn help_explains_the_verbs_that_there_are_and_no_others() {
    let folder = Folder::new();
    let help = folder.run("help").ends_with(0).out;
    for line in ["--help", "-h"] {
        assert_eq!(folder.run(line).ends_with(0).out, help);
    }
    for verb in [
        "check",
        "summary",
        "storage",
        "compare",
        "bring",
        "lookahead",
        "log",
        "saves",
        "restore",
        "replay",
        "import",
        "export",
        "print",
        "pack",
        "unpack",
        "demo",
    ] {
        assert!(help.contains(&format!("wintercrib {verb}")), "{verb}");
    }
    assert!(
        help.lines().all(|line| line.chars().count() <= 120),
        "fits a terminal"
    );
    let version = folder.run("--version").ends_with(0).out;
    assert_eq!(version, format!("wintercrib {}\n", env!("CARGO_PKG_VERSION")));
}

#[test]
fn a_command_line_that_cannot_be_meant_is_refused_with_a_remedy() {
    let folder = Folder::with(SAMPLE);
    for (line, parts) in [
        (
            "sumary",
            &["'sumary' is neither a verb nor a file", "summary"][..],
        ),
        ("--frob", &["--frob", "help"]),
        ("check", &["needs a project"]),
        ("check p.ron q.ron", &["q.ron", "Leave it out"]),
        ("check p.ron --json", &["no option --json"]),
        ("storage", &["needs a project"]),
        ("compare p.ron", &["needs another project"]),
        ("bring p.ron q.ron", &["--ear", "code"]),
        (
            "bring p.ron q.ron --ear DS26-0001-K",
            &["--ear", "check character"],
        ),
        (
            "bring p.ron q.ron --ear DS26-0001-J --kernels some",
            &["'some'", "whole number"],
        ),
        ("summary p.ron --season next", &["'next'", "2026"]),
        ("summary p.ron --season", &["--season"]),
        ("summary p.ron --json --json", &["twice"]),
        ("summary p.ron --season 1999", &["no season 1999", "2026"]),
        ("import p.ron", &["--ears", "--counts"]),
        ("import p.ron --ears a.csv --counts b.csv", &["one table"]),
        ("import p.ron --ears a.csv --test x", &["--test"]),
        (
            "import p.ron --ears a.csv --existing maybe",
            &["'maybe'", "refuse or update or skip"],
        ),
        ("import p.ron --ears a.csv", &["a.csv", "Check its name"]),
        ("print p.ron", &["planting-list"]),
        ("print p.ron steaks --out x.pdf", &["'steaks'", "planting-list"]),
        ("print p.ron planting-list", &["--out", ".pdf or .txt"]),
        (
            "print p.ron planting-list --out p.ron",
            &["p.ron", ".pdf or .txt"],
        ),
        (
            "print p.ron planting-list --out x.pdf --paper a3",
            &["'a3'", "letter or a4"],
        ),
        (
            "print p.ron planting-list --out x.pdf --version 9",
            &["no planting list 9", "1"],
        ),
        ("print p.ron planting-list --out none/x.pdf", &["none/x.pdf"]),
        ("export p.ron --out x.csv", &["--ears"]),
        ("export p.ron --ears", &["--out"]),
        ("demo", &["pocket-starter", "essel-thaw"]),
        ("demo elsewhere --out x.ron", &["pocket-starter"]),
        ("demo --ears 0 --out x.ron", &["no ears"]),
        ("demo --ears -5 --out x.ron", &["'-5'"]),
        ("demo pocket-starter --ears 5 --out x.ron", &["--ears"]),
        ("demo pocket-starter --out x.txt", &[".ron"]),
        ("p.ron q.ron", &["One window", "q.ron"]),
        ("p.ron --json", &["--json"]),
    ] {
        let ran = folder.run_untouched(line).refuses(2, parts);
        assert_eq!(ran.said.lines().count(), 1, "one sentence for '{line}': {ran:?}");
    }
}

#[cfg(unix)]
#[test]
fn arguments_that_are_no_text_are_refused_and_not_choked_on() {
    use std::os::unix::ffi::OsStrExt as _;
    let folder = Folder::with(SAMPLE);
    let odd = std::ffi::OsStr::from_bytes(b"f\xFFx");
    folder.run_with([odd]).ends_with(2);
    folder.run_with(["check".as_ref(), odd]).ends_with(2);
    folder
        .run_with(["summary".as_ref(), "p.ron".as_ref(), "--season".as_ref(), odd])
        .ends_with(2);
    folder
        .run_with(["print".as_ref(), "p.ron".as_ref(), odd])
        .ends_with(2);
    // A name that is no text is still the name of a file.
    std::fs::copy(folder.path("p.ron"), folder.path("").join(odd)).unwrap();
    folder.run_with(["check".as_ref(), odd]).ends_with(0);
}

#[test]
fn a_reader_that_has_read_enough_is_no_fault() {
    let folder = Folder::new();
    folder.run("demo --ears 4000 --out p.ron").ends_with(0);
    for words in [vec!["summary", "p.ron"], vec!["summary", "p.ron", "--json"]] {
        let mut child = folder
            .program()
            .args(words)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut first = [0; 1];
        let mut out = child.stdout.take().unwrap();
        out.read_exact(&mut first).unwrap();
        drop(out);
        let output = child.wait_with_output().unwrap();
        assert_eq!(output.status.code(), Some(0), "{output:?}");
        assert_eq!(String::from_utf8_lossy(&output.stderr), "");
    }
}

// ---- check and summary ---------------------------------------------------------------------------------------

#[test]
fn a_sound_project_has_no_problems_and_is_only_read() {
    let folder = Folder::with(SAMPLE);
    let ran = folder.run_untouched("check p.ron").ends_with(0);
    assert_eq!(
        ran.out,
        "p.ron: no problems in 1 season, 12 ears, 1 tray, 12 counts, 1 planting list.\n"
    );
    assert_eq!(folder.files().len(), 1, "not even a lock is left by reading");
    for line in ["summary p.ron", "summary p.ron --json"] {
        folder.run_untouched(line).ends_with(0);
    }
    assert_eq!(folder.files().len(), 1);
}

#[test]
fn a_project_that_a_window_has_open_is_read_but_not_changed() {
    let folder = Folder::with(SAMPLE);
    folder.put("e.csv", "ear number,row\n13,r1\n");
    let window = project_file::open(&folder.path("p.ron"), "the first window").unwrap();
    assert!(window.file.read_only().is_none());
    for line in [
        "check p.ron",
        "summary p.ron",
        "import p.ron --ears e.csv --dry-run",
    ] {
        folder.run_untouched(line).ends_with(0);
    }
    folder
        .run_untouched("import p.ron --ears e.csv")
        .refuses(2, &["the first window", "Nothing was taken"]);
    folder
        .run_untouched("demo pocket-starter --force --out p.ron")
        .refuses(2, &["the first window"]);
    drop(window);
    folder.run("import p.ron --ears e.csv").ends_with(0);
}

#[test]
fn the_figures_agree_with_the_published_formulas() {
    let folder = Folder::new();
    folder.run("demo essel-thaw --out p.ron").ends_with(0);
    let page = json(&folder, "summary p.ron --json");
    assert_eq!(page["model"]["kind"], "fitted");
    let number = |value: &Value| value.as_f64().unwrap();
    // Likely percents came from a beta-binomial fit before trays were allowed for; its formula holds no longer.
    let model = &page["model"];
    assert_eq!(model["method"], "main model");
    assert!(number(&model["gradient_norm"]) < 1e-6, "{model}");
    let effects = model["tray_effects"].as_array().unwrap();
    let logits: f64 = effects
        .iter()
        .map(|effect| number(&effect["effect_logits"]))
        .sum();
    assert!(effects.len() == 6 && logits.abs() < 1e-9, "{model}");
    let clear = effects.iter().filter(|effect| effect["is_clear"] == true);
    let clear: Vec<&Value> = clear.map(|effect| &effect["tray"]).collect();
    assert_eq!(clear, [4], "{model}");
    // Beta(alpha, beta) has the model's mean and spread.
    let (alpha, beta) = (number(&model["prior_alpha"]), number(&model["prior_beta"]));
    let total = alpha + beta;
    let spread = (alpha * beta / (total * total * (total + 1.0))).sqrt();
    assert!((100.0 * alpha / total - number(&model["mean_percent"])).abs() < 1e-9);
    assert!((100.0 * spread - number(&model["spread_percent_points"])).abs() < 1e-9);
    let sound = &page["tests"][0]["soundness"];
    assert!(number(&sound["trays_differ_p_value"]) < 0.05, "{sound}");
    assert_eq!(sound["finished_trays"], 5);
    let kinds = sound["findings"].as_array().unwrap().iter();
    let kinds: Vec<&Value> = kinds.map(|finding| &finding["kind"]).collect();
    assert_eq!(
        kinds,
        [
            "shifted row",
            "swapped cells",
            "tray differs",
            "drying batches differ"
        ],
        "{sound}"
    );
    // No slope was planted: a test with two degrees of freedom, not clear, so nothing is allowed for.
    assert_eq!(sound["slopes_degrees"], 2, "{sound}");
    assert!(number(&sound["slopes_p_value"]) > 0.01, "{sound}");
    assert_eq!(sound["slopes_allowed_for"], false, "{sound}");
    let ears = page["ears"].as_array().unwrap();
    assert_eq!(ears.len(), 240);
    let mut scored = 0;
    for ear in ears {
        let Some(n) = ear["counted_kernels"].as_f64() else {
            let figures = ear
                .as_object()
                .unwrap()
                .iter()
                .filter(|(key, _)| key.starts_with("cold_germination"));
            assert!(
                figures.clone().count() == 6 && figures.clone().all(|(_, value)| value.is_null()),
                "{ear}"
            );
            continue;
        };
        scored += 1;
        let k = number(&ear["germinated_kernels"]);
        let close = |key: &str, wanted: f64| {
            let found = number(&ear[key]);
            assert!(
                (found - wanted).abs() <= 1e-8 * wanted.abs().max(1.0),
                "{key}: {found}, not {wanted}: {ear}"
            );
        };
        close("cold_germination_observed_percent", 100.0 * k / n);
        // Wilson 1927, J. Am. Stat. Assoc. 22:209; z is the 0.975 quantile of the normal distribution.
        let z = 1.959_963_984_540_054;
        let middle = (k + z * z / 2.0) / (n + z * z);
        let half = z / (n + z * z) * (k * (n - k) / n + z * z / 4.0).sqrt();
        close(
            "cold_germination_observed_95_low_percent",
            100.0 * (middle - half).max(0.0),
        );
        close(
            "cold_germination_observed_95_high_percent",
            100.0 * (middle + half).min(1.0),
        );
        let likely = number(&ear["cold_germination_likely_percent"]);
        let low = number(&ear["cold_germination_likely_90_low_percent"]);
        let high = number(&ear["cold_germination_likely_90_high_percent"]);
        assert!(
            0.0 < low && low < likely && likely < high && high < 100.0,
            "{ear}"
        );
        let chance = number(&ear["at_or_above_cutoff_probability"]);
        assert!((0.0..=1.0).contains(&chance), "{ear}");
    }
    assert_eq!(page["model"]["scored_ears"], scored);
    let choice = &page["choice"];
    let stands = |name: &str| ears.iter().filter(|ear| ear["stand"] == name).count();
    for (key, stand) in [
        ("plant_ears", "plant"),
        ("retest_ears", "retest"),
        ("leave_out_ears", "leave out"),
        ("not_scored_ears", "not scored"),
    ] {
        assert_eq!(choice[key].as_u64().unwrap() as usize, stands(stand), "{key}");
    }
    // 1 / sum of squared shares of the mothers.
    let mut kept = std::collections::BTreeMap::<&str, f64>::new();
    for ear in ears.iter().filter(|ear| ear["stand"] == "plant") {
        *kept.entry(ear["mother_row"].as_str().unwrap()).or_default() += 1.0;
    }
    let all: f64 = kept.values().sum();
    let effective = 1.0 / kept.values().map(|ears| (ears / all).powi(2)).sum::<f64>();
    assert!((number(&choice["effective_mothers"]) - effective).abs() < 1e-9);
    assert_eq!(choice["mothers_kept"].as_u64().unwrap() as usize, kept.len());
}

#[test]
fn what_a_test_was_able_to_tell_and_what_to_test_again() {
    let folder = Folder::new();
    folder.run("demo essel-thaw --out p.ron").ends_with(0);
    let page = json(&folder, "summary p.ron --json");
    let number = |value: &Value| value.as_f64().unwrap();
    let before = &page["tests"][0]["before_the_test"];
    // The exact binomial tails of 53 kernels: tests/reference/telling.json holds the table they belong to.
    assert_eq!(before["tell_apart_kernels_of_an_ear"], 53, "{before}");
    assert_eq!(before["tell_apart_least_germinated_kernels"], 42);
    let plan = &before["plans"][0];
    assert_eq!(
        (
            &plan["kernels_per_cell"],
            &plan["least_germinated_to_pass_kernels"]
        ),
        (&Value::from(10), &Value::from(7))
    );
    // P(X >= 7) of 10 at 60 %, by the sum of the four terms.
    let passes: f64 = [(120.0, 7), (45.0, 8), (10.0, 9), (1.0, 10)]
        .iter()
        .map(|(ways, k)| ways * 0.6_f64.powi(*k) * 0.4_f64.powi(10 - k))
        .sum();
    let curve = plan["operating_characteristic"].as_array().unwrap();
    assert_eq!(curve.len(), 21);
    assert_eq!(curve[12]["true_percent"], 60.0);
    assert!((number(&curve[12]["passes_percent"]) - 100.0 * passes).abs() < 1e-9);
    let curse = number(&plan["passed_observed_percent"]) - number(&plan["passed_true_percent"]);
    assert!(curse > 0.0 && (curse - number(&plan["winners_curse_percent_points"])).abs() < 1e-9);

    let retest = &page["retest"];
    let ears = retest["ears"].as_array().unwrap();
    let benefits: Vec<f64> = ears
        .iter()
        .map(|ear| number(&ear["benefit_per_kernel_probability"]))
        .collect();
    assert!(
        !ears.is_empty() && benefits.is_sorted_by(|a, b| a >= b),
        "{retest}"
    );
    for ear in ears {
        let gain = number(&ear["wrong_now_probability"]) - number(&ear["wrong_after_retest_probability"]);
        assert!(
            (gain - number(&ear["benefit_probability"])).abs() < 1e-12,
            "{ear}"
        );
        let kernels = number(&retest["kernels_of_an_ear"]);
        assert!((gain / kernels - number(&ear["benefit_per_kernel_probability"])).abs() < 1e-12);
    }
    let text = folder.run("summary p.ron").ends_with(0).out;
    for sentence in before["sentences"].as_array().unwrap().iter().chain([
        &before["tell_apart_sentence"],
        &before["spread_sentence"],
        &retest["sentence"],
    ]) {
        let sentence = sentence.as_str().unwrap();
        assert!(text.contains(sentence), "'{sentence}' is not in\n{text}");
    }
    for ear in ears.iter().take(5) {
        let code = ear["ear_code"].as_str().unwrap();
        let listed = text.lines().filter(|line| line.contains(code)).count();
        assert_eq!(listed, 2, "{code} among the retests and among the ears");
    }
}

/// The tables that came with the program's references: computed with scipy, see the file.
#[test]
fn the_wilson_interval_of_eight_of_ten_is_the_published_one() {
    let page = json(&Folder::with(SAMPLE), "summary p.ron --json");
    let known: Value = serde_json::from_str(include_str!("reference/wilson_intervals.json")).unwrap();
    let wanted = &known["tables_95"]["10"][8];
    let ear = &page["ears"][0];
    for (key, at) in [("low", 0), ("high", 1)] {
        let found = ear[format!("cold_germination_observed_95_{key}_percent")]
            .as_f64()
            .unwrap();
        assert!(
            (found / 100.0 - wanted[at].as_f64().unwrap()).abs() < 1e-12,
            "{key}"
        );
    }
}

#[test]
fn the_keys_of_the_json_stay_as_they_are() {
    let page = json(&Folder::with(SAMPLE), "summary p.ron --json");
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
        keys(&page),
        "choice cutoffs ears field index kernels_for_a_stand lines_of_mothers model pedigree population price program_version project project_id response_over_seasons retest season_planted_on \
         season_year sets_of_cutoffs shares storage tests to_do up_by_early_count_share_percent weather"
    );
    assert_eq!(
        keys(&page["tests"][0]),
        "before_the_test cells_to_count cells_with_early_count cells_with_final_count check_lot cold_celsius \
         cold_days early_count_day final_count_day kernels_per_cell laid_on name replicates soundness \
         soundness_remarks trays"
    );
    assert_eq!(
        keys(&page["tests"][0]["cold_days"]),
        "band_half_width_celsius events findings gap_longer_than_minutes heat_base_celsius heat_cap_celsius logs trays \
         wanted_celsius warm_celsius warm_from_day"
    );
    assert_eq!(
        keys(&page["tests"][0]["cold_days"]["trays"][0]),
        "above_band_hours above_other_trays_celsius below_band_hours cold_days_mean_celsius gaps heat_celsius_days \
         highest_celsius in_band_hours known_hours laid_on lowest_celsius mean_celsius tray"
    );
    assert_eq!(
        keys(&page["tests"][0]["before_the_test"]),
        "cutoff_percent plans sentences spread_sentence tell_apart_higher_percent tell_apart_kernels_of_an_ear \
         tell_apart_least_germinated_kernels tell_apart_lower_percent tell_apart_sentence"
    );
    assert_eq!(
        keys(&page["tests"][0]["before_the_test"]["plans"][0]),
        "expected_to_pass_percent kernels_of_all_ears kernels_per_cell laying_hours least_germinated_to_pass_kernels \
         operating_characteristic passed_below_cutoff_percent passed_observed_percent passed_true_percent replicates \
         share_of_packet_percent short_of_kernels_ears trays winners_curse_percent_points"
    );
    assert_eq!(keys(&page["pedigree"]), "refusal seasons");
    assert_eq!(
        keys(&page["pedigree"]["seasons"][0]),
        "effective_families effective_mother_rows families founders harvested_kernels lines_lost_after lines_of_mothers \
         mother_rows open_pollen_unrelated_share own_pollen_unrelated_share plants pollen pollen_of_own_rows_share \
         pollen_rows season_year sentences shares_by_kernels_planted"
    );
    assert_eq!(
        keys(&page["pedigree"]["seasons"][0]["plants"]),
        "open_pollen_mean_coancestry open_pollen_mean_inbreeding_percent own_pollen_mean_coancestry \
         own_pollen_mean_inbreeding_percent"
    );
    assert_eq!(
        keys(&page["pedigree"]["seasons"][0]["founders"][0]),
        "founder open_pollen_share over_represented own_pollen_share"
    );
    assert_eq!(
        keys(&page["shares"]),
        "ears equal kernels most_coancestry refusal sentences shared_out taken_for_granted"
    );
    assert_eq!(
        keys(&page["storage"]),
        "ages_reckoned_to_year lines_without_seed places rules sentences to_grow_anew to_test_again"
    );
    assert_eq!(
        keys(&page["storage"]["rules"]),
        "few_below_kernels low_below_percent old_from_seasons sentence test_again_after_seasons"
    );
    assert_eq!(
        keys(&page["storage"]["places"][0]),
        "humidity_percent kernels name packets seasons sentence temperature_celsius uncounted_packets within_rule_of_100"
    );
    assert_eq!(
        keys(&page["storage"]["places"][0]["seasons"][0]),
        "harvest_year kernels packets uncounted_packets"
    );
    assert_eq!(
        keys(&page["retest"]),
        "ears ears_in_a_tray kernels_of_an_ear sentence waiting_for_a_value_ear_numbers"
    );
    assert_eq!(
        keys(&page["ears"][0]),
        "at_or_above_cutoff_probability cold_germination_likely_90_high_percent \
         cold_germination_likely_90_low_percent cold_germination_likely_percent \
         cold_germination_observed_95_high_percent cold_germination_observed_95_low_percent \
         cold_germination_observed_percent counted_kernels ear_code ear_number frost frosted germinated_kernels \
         heat_units_celsius_days kernels_in_packets maturity_days mother_row place_percent_points speed stand vigor_mean_grade why"
    );
    assert_eq!(
        keys(&page["ears"][0]["speed"]),
        "counts curve_ever_up_share_percent curve_half_up_day curve_half_up_day_error_days curve_steepness \
         first_count_day half_up_day half_up_not_after_day mean_time_days seedling_length_millimetres sentences \
         speed_kernels_per_day_per_kernel up_by_early_count_share_percent up_by_first_count_kernels \
         up_in_the_end_kernels vigor_graded_cells vigor_index_percent_millimetres vigor_least_grade vigor_mean_grade \
         vigor_most_grade vigor_standard_deviation_grade"
    );
    assert_eq!(page["ears"][0]["cold_germination_observed_percent"], 80.0);
    assert_eq!(page["ears"][0]["ear_code"], "DS26-0001-J");
    assert_eq!(page["ears"][0]["kernels_in_packets"], 290);
}

/// Three generations of an invented project: one ear's mothers, and the figures of the season that was asked for.
#[test]
fn the_pedigree_is_told_by_ear_and_by_season() {
    let folder = Folder::new();
    folder
        .run("demo --ears 60 --seasons 3 --seed 7 --out p.ron")
        .ends_with(0);
    let all = json(&folder, "pedigree p.ron --json");
    assert!(all["ear"].is_null());
    let seasons = all["pedigree"]["seasons"].as_array().unwrap();
    let years: Vec<i64> = seasons
        .iter()
        .map(|one| one["season_year"].as_i64().unwrap())
        .collect();
    assert_eq!(years, [2023, 2024, 2025]);
    for season in seasons {
        let sum: f64 = season["founders"]
            .as_array()
            .unwrap()
            .iter()
            .map(|one| one["open_pollen_share"].as_f64().unwrap())
            .sum();
        let unrelated = season["open_pollen_unrelated_share"].as_f64().unwrap();
        assert!((sum + unrelated - 1.0).abs() < 1e-12, "{sum} {unrelated}");
    }
    let one = json(&folder, "pedigree p.ron --season 2025 --ear 1 --json");
    assert_eq!(one["pedigree"]["seasons"].as_array().unwrap().len(), 1);
    assert_eq!(one["ear"]["ancestors"].as_array().unwrap().len(), 2);
    let code = one["ear"]["ear_code"].as_str().unwrap();
    let told = folder
        .run(&format!("pedigree p.ron --ear {code}"))
        .ends_with(0)
        .out;
    assert!(told.contains(one["ear"]["path"].as_str().unwrap()), "{told}");
    let told = folder.run("pedigree p.ron --season 2024").ends_with(0).out;
    assert!(
        told.contains("Pollen over 2024: not stated") && !told.contains("Pollen over 2025"),
        "{told}"
    );
    let drawn = folder.run("print p.ron pedigree --out p.svg").ends_with(0).out;
    assert_eq!(drawn, "Drew the pedigree of 3 seasons to p.svg.\n");
    let svg = folder.text("p.svg");
    for family in ["Row 1 of 2025, from ear", "Pollen over 2024: not stated"] {
        assert!(svg.contains(family), "{family}");
    }
    folder
        .run("print p.ron pedigree --out p.png --dots 900x700")
        .ends_with(0);
    folder
        .run("print p.ron pedigree --out p.pdf --paper a4")
        .ends_with(0);
    for wrong in ["--ear 999", "--ear QQ", "--season 1999"] {
        let said = folder.run(&format!("pedigree p.ron {wrong}")).ends_with(2);
        assert!(said.out.is_empty(), "{}", said.out);
    }
}

#[test]
fn nothing_counted_is_null_and_not_zero() {
    let page = json(&Folder::with(&without("counts")), "summary p.ron --json");
    assert_eq!(page["model"]["kind"], "weak prior");
    assert_eq!(page["model"]["scored_ears"], 0);
    assert!(page["choice"]["all_cold_germination_observed_percent"].is_null());
    assert!(page["tests"][0]["trays"][0]["ears_germinated_percent"].is_null());
    for ear in page["ears"].as_array().unwrap() {
        assert!(ear["cold_germination_observed_percent"].is_null());
        assert!(ear["germinated_kernels"].is_null());
        assert!(ear["mother_row"].is_string());
    }
}

#[test]
fn the_page_for_a_person_stands_in_columns() {
    let folder = Folder::new();
    folder.run("demo essel-thaw --out p.ron").ends_with(0);
    let page = folder.run("summary p.ron --season 2025").ends_with(0).out;
    for part in [
        "DEMO Essel Thaw, season 2025",
        "Test 'Cold test'",
        "To do",
        "Cutoffs",
        "The choice",
        "Ears",
    ] {
        assert!(page.contains(part), "{part}");
    }
    let lines: Vec<&str> = page.lines().skip_while(|line| *line != "Ears").skip(1).collect();
    assert_eq!(lines.len(), 241);
    let at = lines[0].find("Why").unwrap();
    for line in &lines[1..] {
        let before: String = line.chars().skip(at - 2).take(2).collect();
        assert_eq!(before, "  ", "the last column begins where it should: {line}");
    }
}

// ---- import and export ------------------------------------------------------------------------------------

#[test]
fn ears_are_taken_with_a_journal_and_a_backup_and_undo_reaches_behind() {
    let folder = Folder::with(SAMPLE);
    folder.put(
        "e.csv",
        "Ear number,Mother row,Maturity days,Kernels,colour\n13,r9,88,250,red\n14,r9,91,,blue\n",
    );
    let dry = folder
        .run_untouched("import p.ron --ears e.csv --dry-run")
        .ends_with(0);
    assert_eq!(dry.out, "Nothing was changed; without --dry-run: 2 ears added.\n");
    let ran = folder.run("import p.ron --ears e.csv").ends_with(0);
    assert_eq!(ran.out, "2 ears added.\n");
    assert!(ran.said.contains("not read: colour"), "{ran:?}");
    assert_eq!(folder.text("p.ron.bak"), SAMPLE, "the file before is kept");
    let page = json(&folder, "summary p.ron --json");
    let ear = &page["ears"][12];
    assert_eq!(
        (ear["ear_number"].as_u64(), ear["mother_row"].as_str()),
        (Some(13), Some("r9"))
    );
    assert_eq!(
        (ear["maturity_days"].as_u64(), ear["kernels_in_packets"].as_u64()),
        (Some(88), Some(250))
    );
    assert!(
        page["ears"][13]["kernels_in_packets"].is_null(),
        "not counted is not zero"
    );
    folder.run("check p.ron").ends_with(0);
    let opened = project_file::open(&folder.path("p.ron"), "test").unwrap();
    assert_eq!(opened.notes, Vec::<String>::new());
    assert!(
        opened.document.undo_label().is_some(),
        "the import can be taken back"
    );
}

#[test]
fn ears_that_are_there_already_are_refused_updated_or_skipped() {
    let folder = Folder::with(SAMPLE);
    folder.put("e.csv", "ear,maturity days\n12,99\n13,88\n");
    folder.run_untouched("import p.ron --ears e.csv").refuses(
        1,
        &["Nothing was taken", "line 2, column 'ear'", "already has ear 12"],
    );
    folder
        .run_untouched("import p.ron --ears e.csv --existing refuse")
        .ends_with(1);
    let days = |folder: &Folder| json(folder, "summary p.ron --json")["ears"][11]["maturity_days"].as_u64();
    let skipping = Folder::with(SAMPLE);
    skipping.put("e.csv", folder.text("e.csv"));
    let ran = skipping
        .run("import p.ron --ears e.csv --existing skip")
        .ends_with(0);
    assert_eq!(ran.out, "1 ear added. There already, and left as before: 1.\n");
    assert_eq!(days(&skipping), Some(92));
    let ran = folder
        .run("import p.ron --ears e.csv --existing update")
        .ends_with(0);
    assert_eq!(ran.out, "1 ear added. There already, and updated: 1.\n");
    assert_eq!(days(&folder), Some(99));
}

#[test]
fn counts_are_taken_for_the_test_and_corrected_only_when_asked() {
    let folder = Folder::with(&without("counts"));
    // What does not fit together has its reason with it.
    let odd = "cell,pass,strong,fresh,reason\nA3,early,9,1,\nA3,final,5,5,the cat sat on it\n";
    folder.put("odd.csv", odd);
    folder
        .run_untouched("import p.ron --counts odd.csv --dry-run")
        .ends_with(0);
    folder.put("c.csv", "cell,strong,weak,dead\nA1,8,1,1\nA2,3,0,7\n");
    let ran = folder.run("import p.ron --counts c.csv").ends_with(0);
    assert_eq!(ran.out, "2 counts taken.\n");
    let page = json(&folder, "summary p.ron --json");
    assert_eq!(page["tests"][0]["cells_with_final_count"], 2);
    let ear = page["ears"]
        .as_array()
        .unwrap()
        .iter()
        .find(|ear| ear["ear_number"] == 10)
        .unwrap();
    assert_eq!(
        ear["cold_germination_observed_percent"], 90.0,
        "ear 10 lies in A1"
    );
    folder.put("d.csv", "cell,strong,dead\nA1,5,5\n");
    folder
        .run_untouched("import p.ron --counts d.csv")
        .refuses(1, &["line 2", "already has another final count"]);
    folder
        .run("import p.ron --counts d.csv --existing update --test no-such")
        .refuses(2, &["'cold test'"]);
    folder
        .run("import p.ron --counts d.csv --existing update")
        .ends_with(0);
    let early = folder
        .run("import p.ron --counts d.csv --pass early")
        .ends_with(0);
    assert_eq!(early.out, "1 count taken.\n");
    let page = json(&folder, "summary p.ron --json");
    assert_eq!(page["tests"][0]["cells_with_early_count"], 1);
    let ear = page["ears"]
        .as_array()
        .unwrap()
        .iter()
        .find(|ear| ear["ear_number"] == 10)
        .unwrap();
    assert_eq!(ear["cold_germination_observed_percent"], 50.0);
    folder.run("check p.ron").ends_with(0);
}

#[test]
fn dates_with_two_meanings_need_a_word_of_their_order() {
    let folder = Folder::with(SAMPLE);
    folder.put("e.csv", "ear,planted,matured\n13,04/05/2026,03/08/2026\n");
    folder
        .run_untouched("import p.ron --ears e.csv")
        .refuses(1, &["line 2", "can be two dates"]);
    let day_first = folder.run_untouched("import p.ron --ears e.csv --dates day-first --dry-run");
    day_first.ends_with(0);
    // Read month first the ear would have matured before it was planted.
    folder
        .run_untouched("import p.ron --ears e.csv --dates month-first --dry-run")
        .refuses(1, &["2026-03-08", "before it was planted"]);
    folder
        .run("import p.ron --ears e.csv --dates day-first")
        .ends_with(0);
    assert!(folder.text("p.ron").contains("planted: Some(\"2026-05-04\")"));
}

#[test]
fn what_is_exported_can_be_imported_again() {
    let folder = Folder::with(SAMPLE);
    let ran = folder.run("export p.ron --ears --out e.csv").ends_with(0);
    assert_eq!(ran.out, "Wrote 12 ears to e.csv.\n");
    assert!(folder.text("e.csv").starts_with("Ear number,Ear code,"));
    folder
        .run_untouched("export p.ron --ears --out e.csv")
        .refuses(2, &["already", "--force"]);
    let ran = folder
        .run("import p.ron --ears e.csv --existing update --dry-run")
        .ends_with(0);
    assert!(ran.out.contains("0 ears added"), "{ran:?}");
    let empty = Folder::new();
    empty.run("demo pocket-starter --out a.ron").ends_with(0);
    empty.run("export a.ron --ears --out a.csv").ends_with(0);
    empty
        .run("import a.ron --ears a.csv --existing update")
        .ends_with(0);
    empty.run("export a.ron --ears --out b.csv").ends_with(0);
    assert_eq!(empty.text("a.csv"), empty.text("b.csv"));
}

// ---- print and demo ----------------------------------------------------------------------------------------

#[test]
fn the_planting_list_prints_and_its_text_has_the_digest() {
    let folder = Folder::with(SAMPLE);
    let ran = folder.run("print p.ron planting-list --out l.txt").ends_with(0);
    let digest = digest_hex(folder.text("l.txt").as_bytes());
    assert!(SAMPLE.contains(&digest), "the digest is the one that was frozen");
    assert!(
        ran.out.contains(&format!("'sha256sum l.txt' gives {digest}.")),
        "{ran:?}"
    );
    for (paper, name) in [("letter", "a.pdf"), ("a4", "b.pdf")] {
        let ran = folder
            .run(&format!("print p.ron planting-list --out {name} --paper {paper}"))
            .ends_with(0);
        assert!(ran.out.contains(&digest), "{ran:?}");
        assert!(folder.files()[name].starts_with(b"%PDF-"));
    }
    let files = folder.files();
    assert_ne!(files["a.pdf"], files["b.pdf"]);
    folder
        .run("print p.ron planting-list --season 2026 --version 1 --out c.pdf")
        .ends_with(0);
    assert_eq!(
        folder.files()["c.pdf"],
        files["a.pdf"],
        "letter is usual, and the bytes are the same again"
    );
    folder
        .run_untouched("print p.ron planting-list --out l.txt")
        .refuses(2, &["l.txt", "--force"]);
    folder.put("l.txt", "mine");
    folder
        .run("print p.ron planting-list --out l.txt --force")
        .ends_with(0);
    assert_eq!(folder.text("l.txt.bak"), "mine");
    assert_eq!(digest_hex(folder.text("l.txt").as_bytes()), digest);
}

#[test]
fn a_list_that_is_not_what_was_frozen_is_not_printed() {
    let folder = Folder::with(&changed(
        "likely_percent: Some(77.3)",
        "likely_percent: Some(97.3)",
    ));
    folder
        .run_untouched("print p.ron planting-list --out l.pdf")
        .refuses(1, &["not what was frozen", "Restore"]);
    let ran = folder.run_untouched("check p.ron").ends_with(1);
    assert!(
        ran.out.contains("planting list 1") && ran.out.contains("digest"),
        "{ran:?}"
    );
    Folder::with(&without("lists"))
        .run_untouched("print p.ron planting-list --out l.pdf")
        .refuses(2, &["No planting list is frozen"]);
}

#[test]
fn demo_projects_are_the_same_again_and_replace_nothing_unasked() {
    let folder = Folder::new();
    for name in ["pocket-starter", "essel-thaw"] {
        folder.run(&format!("demo {name} --out {name}.ron")).ends_with(0);
        let kept = std::fs::read(format!("{}/demo-projects/{name}.ron", env!("CARGO_MANIFEST_DIR"))).unwrap();
        assert!(
            folder.files()[&format!("{name}.ron")] == kept,
            "{name} is not the one in demo-projects"
        );
        folder.run(&format!("check {name}.ron")).ends_with(0);
    }
    let ran = folder
        .run("demo --ears 30 --seasons 2 --seed 7 --out s.ron")
        .ends_with(0);
    assert!(ran.out.contains("in 2 seasons"), "{ran:?}");
    folder
        .run("demo --ears 30 --seasons 2 --seed 7 --out t.ron")
        .ends_with(0);
    folder
        .run("demo --ears 30 --seasons 2 --seed 8 --out u.ron")
        .ends_with(0);
    assert_eq!(folder.text("s.ron"), folder.text("t.ron"));
    assert_ne!(folder.text("s.ron"), folder.text("u.ron"));
    folder
        .run_untouched("demo pocket-starter --out s.ron")
        .refuses(2, &["s.ron", "--force"]);
    let before = folder.text("s.ron");
    folder.run("demo pocket-starter --force --out s.ron").ends_with(0);
    assert_eq!(folder.text("s.ron.bak"), before);
    assert_eq!(folder.text("s.ron"), folder.text("pocket-starter.ron"));
    // A list of the first season's ears is there to be printed.
    let first = folder.run("print t.ron planting-list --out l.txt").ends_with(0);
    assert!(first.out.contains("version 1"), "{first:?}");
}

#[test]
fn the_days_of_the_tests_are_written_as_a_calendar() {
    let folder = Folder::new();
    folder.run("demo essel-thaw --out thaw.ron").ends_with(0);
    let ran = folder.run("export thaw.ron --ics --out days.ics").ends_with(0);
    assert_eq!(ran.out, "Wrote 9 dates to days.ics.\n");
    let text = folder.text("days.ics");
    assert!(text.starts_with("BEGIN:VCALENDAR\r\nVERSION:2.0\r\n"), "{text}");
    // Laid on three evenings from 3 February 2026 on: the early count is due on day 6, the final one on day 12.
    for day in ["20260209", "20260210", "20260211", "20260215", "20260218"] {
        assert_eq!(
            text.matches(&format!("DTSTART;VALUE=DATE:{day}\r\n")).count(),
            1,
            "{text}"
        );
    }
    folder
        .run("export thaw.ron --ics --out days.csv")
        .refuses(2, &["days.csv", ".ics"]);
    folder
        .run("export thaw.ron --ics --ears --out days.ics")
        .refuses(2, &["--ears or --ics"]);
    folder
        .run("demo --ears 20 --seasons 2 --out two.ron")
        .ends_with(0);
    folder
        .run("export two.ron --ics --season 1999 --out none.ics")
        .refuses(2, &["no season 1999"]);
    folder.put("unlaid.ron", changed(", laid: Some(\"2026-11-26\")", ""));
    folder
        .run("export unlaid.ron --ics --out none.ics")
        .refuses(2, &["No test of season 2026 is laid", "Trays pane"]);
    assert!(!folder.files().contains_key("none.ics"));
}
