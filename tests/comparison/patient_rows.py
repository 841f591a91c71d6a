"""Who the patient is and what the patient can bear; and what just is no danger."""

from tests.comparison.builders import ABSENT
from tests.comparison.row_words import MORPHINE, WITH_RATE, Row

NAIVE = {**WITH_RATE, "AB.chart.opioid_tolerant": "no"}
OLD = {"policy.caution_from_age": 70, "AB.read_at": "2031-04-09T00:10:00+02:00"}
STRONG: dict[str, object] = {
    f"{MORPHINE}.concentrations": [{"is": "1 mg/mL", "tolerant_only": True}, "0.5 mg/mL"]
}

ROWS: dict[str, Row] = {
    # patient-differs
    "two different identifiers": (
        {"B.patient.identifier": "INVENTED-0471", "patient.identifier": "INVENTED-0417"},
        ["stop readings-differ patient.identifier"],
    ),
    "two different birth dates": (
        {"A.patient.birth_date": "1961-09-04"},
        ["stop readings-differ patient.birth_date"],
    ),
    "another patient than the infusion's": (
        {"patient.identifier": "INVENTED-0002", "patient.birth_date": "1970-01-01"},
        ["stop patient-differs patient.identifier", "stop patient-differs patient.birth_date"],
    ),
    "the infusion's patient": (
        {
            "patient.identifier": " INVENTED-0417",
            "patient.birth_date": "1961-04-09",
            "A.patient.identifier": "INVENTED-0417 ",
        },
        [],
    ),
    "an identifier in another case, with a space and another dash": (
        {"A.patient.identifier": "invented \u20130417"},
        [],
    ),
    "another patient's order": (
        {"AB.order.patient": {"identifier": "INVENTED-0002", "birth_date": "1970-01-01"}},
        ["stop patient-differs patient.identifier", "stop patient-differs patient.birth_date"],
    ),
    "another patient's label": (
        {"AB.label.patient.identifier": "INVENTED-0002"},
        ["stop patient-differs patient.identifier"],
    ),
    "another patient's chart, which one of them read": (
        {"B.chart.patient.identifier": "INVENTED-0002"},
        ["stop patient-differs patient.identifier"],
    ),
    "an end that is not the identifier's": (
        {
            "A.chart.patient.identifier": "*0417",
            "AB.order.patient.identifier": "* d-0417",
            "A.label.patient.identifier": "*00417",
            "B.label.patient.identifier": "*0417",
            "A.patient.identifier": "INVENTED-00417",
            "B.patient.identifier": "INVENTED00417",
            "AB.order.patient.birth_date": "1961-04-09",
        },
        ["stop patient-differs patient.identifier"],
    ),
    "the right end of the identifier": (
        {
            "AB.chart.patient.identifier": "*0417",
            "A.label.patient.identifier": "*ted 0417",
            "B.label.patient.identifier": "*0417",
        },
        [],
    ),
    "two ends of which neither ends as the other": (
        {"A.label.patient.identifier": "*0417", "B.label.patient.identifier": "*1417"},
        ["stop readings-differ patient.identifier"],
    ),
    "a label for no one patient": ({"AB.label.patient": None}, []),
    "a label for no one patient, as one read it": (
        {"B.label.patient": None},
        ["stop readings-differ patient.identifier"],
    ),
    "a label of which nobody read whose it is": (
        {"AB.label.patient": ABSENT},
        ["stop reading-missing patient.identifier"],
    ),
    "an identifier of dashes alone is blank": (
        {"A.label.patient.identifier": " -- "},
        ["stop reading-missing patient.identifier"],
    ),
    "an order of which nobody read whose it is": (
        {"AB.order.patient": None},
        ["stop reading-missing patient.identifier", "stop reading-missing patient.birth_date"],
    ),
    "the chart's patient, where the site asks for it": (
        {"policy.chart_patient_required": True, "A.chart.patient.identifier": "INVENTED-0417"},
        ["stop reading-missing patient.identifier"],
    ),
    # what both must read in the chart
    "an order that is not current": (
        {"AB.chart.order_current": "no"},
        ["stop order-not-current chart.order_current"],
    ),
    "an order that one thinks is current": (
        {"A.chart.order_current": "no"},
        ["stop readings-differ chart.order_current"],
    ),
    "an order that is not verified": (
        {"AB.chart.pharmacist": "not-yet"},
        ["stop order-not-verified chart.pharmacist"],
    ),
    "an urgent exception": (
        {"AB.chart.pharmacist": "urgent-exception"},
        ["caution verified-as-urgent-exception chart.pharmacist"],
    ),
    "a site that requires no pharmacist": (
        {"AB.chart.pharmacist": "not-yet", "policy.pharmacist_required": False},
        [],
    ),
    "a site that requires no pharmacist has an exception": (
        {"AB.chart.pharmacist": "urgent-exception", "policy.pharmacist_required": False},
        [],
    ),
    "a site that requires no pharmacist still asks": (
        {"B.chart.pharmacist": None, "policy.pharmacist_required": False},
        ["stop reading-missing chart.pharmacist"],
    ),
    "an allergy to this drug or its family": (
        {"AB.chart.allergy": "to-this-drug-or-its-family"},
        ["stop allergy-charted chart.allergy"],
    ),
    "an intolerance that was reviewed": (
        {"AB.chart.allergy": "intolerance-reviewed"},
        ["caution intolerance-reviewed chart.allergy"],
    ),
    "an allergy of which the chart says nothing": (
        {"AB.chart.allergy": "not-recorded"},
        ["caution allergy-not-recorded chart.allergy"],
    ),
    "a patient who cannot use the button": (
        {"AB.chart.able_to_use_button": "no"},
        ["stop cannot-use-button chart.able_to_use_button"],
    ),
    "no chart at all": (
        {"AB.chart": None},
        [
            "stop reading-missing chart.order_current",
            "stop reading-missing chart.pharmacist",
            "stop reading-missing chart.allergy",
            "stop reading-missing chart.opioid_tolerant",
            "stop reading-missing chart.other_opioids",
            "stop reading-missing chart.sedatives",
            "stop reading-missing chart.neuraxial_opioid",
            "stop reading-missing chart.able_to_use_button",
            "stop reading-missing chart.sleep_apnea",
            "stop reading-missing chart.lung_disease",
            "stop reading-missing chart.kidney_or_liver_disease",
            "stop reading-missing chart.supplemental_oxygen",
            "stop reading-missing chart.weight",
        ],
    ),
    # risk answers: one of the two is enough, and the riskier counts
    "risk answers of one of the two": (
        {
            "A.chart": {
                "order_current": "yes",
                "pharmacist": "verified",
                "allergy": "none-to-this-drug",
                "able_to_use_button": "yes",
            }
        },
        [],
    ),
    "a risk that nobody read": (
        {"AB.chart.sedatives": None},
        ["stop reading-missing chart.sedatives"],
    ),
    "no weight charted is an answer": ({"AB.chart.weight": None}, []),
    "a sedative, as one read it": (
        {"B.chart.sedatives": "charted"},
        ["caution patient-at-risk patient", "note risk-read-differently patient"],
    ),
    "sleep apnea, of which the other's chart says nothing": (
        {"A.chart.sleep_apnea": "charted", "B.chart.sleep_apnea": "not-recorded"},
        ["caution patient-at-risk patient", "note risk-read-differently patient"],
    ),
    "an illness of which the chart says nothing is no reason": (
        {"AB.chart.lung_disease": "not-recorded"},
        [],
    ),
    "an old patient": (
        {**OLD, "AB.device.monitor.capnography": "off"},
        ["stop monitoring-off monitor.capnography", "caution patient-at-risk patient"],
    ),
    "a patient the day before": (
        {**OLD, "AB.read_at": "2031-04-08T23:59:00+02:00"},
        [],
    ),
    "a patient who is old where the other reads": (
        {**OLD, "A.read_at": "2031-04-08T23:59:00+02:00", "B.read_at": "2031-04-09T00:10:00+02:00"},
        ["caution patient-at-risk patient"],
    ),
    "an age of which nobody knows when it was": ({**OLD, "AB.read_at": None}, []),
    "an age of which the other did not read the birth date": (
        {**OLD, "B.patient.birth_date": None},
        ["stop reading-missing patient.birth_date"],
    ),
    "a birthday on 29 February is completed on 1 March": (
        {
            "policy.caution_from_age": 71,
            "AB.patient.birth_date": "1960-02-29",
            "AB.order.patient.birth_date": "1960-02-29",
            "AB.read_at": "2031-03-01T00:00:00Z",
        },
        ["caution patient-at-risk patient"],
    ),
    "and not on 28 February": (
        {
            "policy.caution_from_age": 71,
            "AB.patient.birth_date": "1960-02-29",
            "AB.order.patient.birth_date": "1960-02-29",
            "AB.read_at": "2031-02-28T23:59:00Z",
        },
        [],
    ),
    "a light patient, by the lower of two weights": (
        {"policy.caution_below_weight": "50 kg", "A.chart.weight": "51 kg", "B.chart.weight": "49.5 kg"},
        ["caution patient-at-risk patient", "note risk-read-differently patient"],
    ),
    "a patient of just that weight": (
        {"policy.caution_below_weight": "50 kg", "AB.chart.weight": "50 kg"},
        [],
    ),
    "a weight before none": (
        {"policy.caution_below_weight": "50 kg", "A.chart.weight": None, "B.chart.weight": "40 kg"},
        ["caution patient-at-risk patient", "note risk-read-differently patient"],
    ),
    "an epidural opioid that runs": (
        {"A.chart.neuraxial_opioid": "running", "B.chart.neuraxial_opioid": ABSENT},
        ["stop neuraxial-opioid-running chart.neuraxial_opioid"],
    ),
    "an epidural opioid that runs, and another reason": (
        {"AB.chart.neuraxial_opioid": "running", "AB.chart.other_opioids": "charted"},
        [
            "stop neuraxial-opioid-running chart.neuraxial_opioid",
            "caution patient-at-risk patient",
        ],
    ),
    "an epidural opioid of the last day": (
        {"AB.chart.neuraxial_opioid": "within-24-h"},
        ["caution patient-at-risk patient"],
    ),
    # a continuous part
    "a continuous part for a patient at risk": (
        {**NAIVE, "AB.chart.lung_disease": "charted"},
        ["stop continuous-in-patient-at-risk continuous_rate"],
    ),
    "a continuous part for a patient at risk who is tolerant": (
        {**WITH_RATE, "AB.chart.lung_disease": "charted"},
        ["caution patient-at-risk patient"],
    ),
    "a continuous part for a patient who is tolerant as one read it": (
        {**WITH_RATE, "B.chart.opioid_tolerant": "no"},
        ["caution continuous-opioid-naive continuous_rate", "note risk-read-differently patient"],
    ),
    "a continuous part for a patient at risk, where the site makes it a caution": (
        {**NAIVE, "AB.chart.lung_disease": "charted", "policy.continuous_at_risk": "caution"},
        ["caution continuous-in-patient-at-risk continuous_rate"],
    ),
    "what it stands for is raised, and it with it": (
        {
            **NAIVE,
            "AB.chart.lung_disease": "charted",
            "policy.continuous_at_risk": "caution",
            "policy.raise_to_stop": ["patient-at-risk"],
        },
        ["stop continuous-in-patient-at-risk continuous_rate"],
    ),
    "a continuous part in a patient at risk, as one read the device": (
        {**NAIVE, "AB.chart.lung_disease": "charted", "B.device.mode": "demand"},
        [
            "stop readings-differ mode",
            "stop mode-conflict mode B",
            "stop continuous-in-patient-at-risk continuous_rate A",
        ],
    ),
    # strength
    "a strength for tolerant patients only": (
        STRONG,
        ["stop strength-for-tolerant-only concentration"],
    ),
    "a strength for tolerant patients, who this patient is": (
        {**STRONG, "AB.chart.opioid_tolerant": "yes"},
        [],
    ),
    "a strength for tolerant patients, which only the label has": (
        {
            "AB.label.amount": "250 mg",
            f"{MORPHINE}.concentrations": ["1 mg/mL", {"is": "5 mg/mL", "tolerant_only": True}],
        },
        ["stop label-differs concentration", "stop strength-for-tolerant-only concentration"],
    ),
    "a strength that another drug has for tolerant patients only": (
        {
            "library.fentanyl.concentrations": [{"is": "1 mg/mL", "tolerant_only": True}],
            f"{MORPHINE}.concentrations": [{"is": "1 mg/mL", "tolerant_only": False}],
        },
        [],
    ),
    "a strength of a drug that was not read": (
        {**STRONG, "AB.label.drug": None, "AB.device.drug": None},
        ["stop reading-missing drug"],
    ),
    "one of two rows says that a strength is for tolerant patients only": (
        {f"{MORPHINE}.concentrations": ["1 mg/mL", {"is": "1000 mcg/mL", "tolerant_only": True}]},
        ["stop strength-for-tolerant-only concentration"],
    ),
    "an order that leaves open what only one strength can be": (
        {
            "AB.order.amount": ABSENT,
            "AB.order.volume": ABSENT,
            "AB.order.concentration": None,
            f"{MORPHINE}.concentrations": ["1 mg/mL", {"is": "5 mg/mL", "tolerant_only": True}],
        },
        [],
    ),
    "an order that leaves open what two strengths can be for a tolerant patient": (
        {
            "AB.chart.opioid_tolerant": "yes",
            "AB.order.amount": ABSENT,
            "AB.order.volume": ABSENT,
            "AB.order.concentration": None,
            f"{MORPHINE}.concentrations": ["1 mg/mL", {"is": "5 mg/mL", "tolerant_only": True}],
        },
        ["caution concentration-unordered concentration"],
    ),
    # rows of the library for some patients
    "a row for patients who are not tolerant": (
        {
            f"{MORPHINE}.limits": [
                {"field": "demand_dose", "for": "not-tolerant", "hard_high": "0.5 mg"},
                {"field": "lockout", "for": "tolerant", "hard_low": "20 min"},
            ]
        },
        ["stop above-hard-limit demand_dose"],
    ),
    "a row for patients who are tolerant": (
        {
            "AB.chart.opioid_tolerant": "yes",
            f"{MORPHINE}.limits": [
                {"field": "demand_dose", "for": "not-tolerant", "hard_high": "0.5 mg"},
                {"field": "lockout", "for": "tolerant", "hard_low": "20 min"},
            ],
        },
        ["stop below-hard-limit lockout"],
    ),
    # monitors by risk
    "capnography that oxygen requires": (
        {"B.chart.supplemental_oxygen": "on", "AB.device.monitor.capnography": "off"},
        ["stop monitoring-off monitor.capnography", "note risk-read-differently patient"],
    ),
    "capnography that nothing requires": ({"AB.device.monitor.capnography": "off"}, []),
    "capnography that the site never requires": (
        {
            "AB.chart.supplemental_oxygen": "on",
            "AB.device.monitor.capnography": "off",
            "policy.capnography_required": "never",
        },
        [],
    ),
    "capnography that oxygen requires and one did not read": (
        {"AB.chart.supplemental_oxygen": "on", "A.device.monitor.capnography": None},
        ["stop reading-missing monitor.capnography"],
    ),
}
