"""The walk past every screen: two nurses, those who help, and those who look afterwards."""

from dataclasses import replace

from app.records.state import Phase
from tests.browser.arriving import lock_and_unlock, sign_in
from tests.browser.beforehand import Beforehand
from tests.browser.people import Helper, Nurse, Person
from tests.browser.replacing import replace_a_syringe
from tests.browser.two import Two
from tests.browser.walk_asked import what_is_asked_first
from tests.browser.walk_exports import given_to_quality
from tests.browser.walk_hurried import outside_of_checks, placing_a_stop
from tests.browser.walk_lost import while_the_database_is_lost
from tests.browser.walk_orders import letting_in
from tests.browser.walk_running import Visitor, holding_beside, typing_in, while_it_runs
from tests.browser.walk_samples import auditing_a_sample
from tests.browser.walk_site import beds_and_units, rules_of_the_site
from tests.browser.walk_training import of_training
from tests.browser.ward import Scene, Ward


def walk(ward: Ward, visitor: Visitor, scene: Scene) -> None:
    """Every screen, one after the other."""
    one, other = before_reading(ward, visitor, scene)
    reading(visitor, scene, one, other)
    comparing(visitor, scene, one, other)
    taking_steps(visitor, scene, one, other)
    signing(visitor, scene, one, other)
    settling(ward, visitor, scene)
    replace_a_syringe(ward, visitor.take, scene.at("21"), danger=scene.at("22"))
    handing_over(ward, visitor, scene.at("20"))
    while_it_runs(ward, visitor, scene)
    outside_of_checks(ward, visitor, scene)
    afterwards(ward, visitor)
    while_the_database_is_lost(ward, visitor)
    what_is_asked_first(ward, visitor)
    of_training(ward, visitor)


def before_reading(ward: Ward, visitor: Visitor, scene: Scene) -> tuple[Nurse, Nurse]:
    """From the sign-in to two who have joined."""
    one = sign_in(ward, visitor.take)
    lock_and_unlock(ward, visitor.take)
    one.go("/")
    one.follow("Open a check")
    one.press("Open the check")
    visitor.take(one, "open, a fault")
    one.write("Bed", scene.bed)
    one.press("Open the check")
    visitor.take(one, "code")
    code = one.page.locator(".join-code").inner_text()
    other = ward.nurse("t.osmund")
    visitor.take(other, "my checks, second wanted")
    other.follow("Join by code")
    other.write("Code", "AAA AAA")
    other.press("Find the check")
    visitor.take(other, "join by code, wrong")
    other.write("Code", code)
    other.press("Find the check")
    visitor.take(other, "join")
    other.press("Join and read alone")
    return one, other


def reading(visitor: Visitor, scene: Scene, one: Nurse, other: Nurse) -> None:
    """Every source, empty; faults; the look over it; waiting; danger."""
    one.begin_reading()
    while (source := one.source_in_front) is not None:
        visitor.take(one, f"read the {source.value}")
        one.read_source(scene.wrong[source.value])
    visitor.take(one, "look over my reading")
    one.page.get_by_role("link", name="Back to Device").click()
    one.write_source({"demand_dose": ".2 mg", "lockout": "10,0 min", "limit_window": "30 min"})
    one.press("Keep, and go over it")
    visitor.take(one, "read the device, faults")
    one.go("/")
    one.look_at_check(scene.place)
    one.follow("I see danger")
    visitor.take(one, "danger")
    one.look_at_check(scene.place)
    one.hand_in()
    visitor.take(one, "waiting")
    other.look_at_check(scene.place)
    other.read({**scene.wrong, "monitor": {}})
    visitor.take(other, "look over my reading, not entered")
    other.page.get_by_role("link", name="Back to Monitor").click()
    other.write_source(scene.wrong["monitor"])
    other.press("Keep, and go over it")
    other.hand_in()
    visitor.take(other, "both handed in")


def comparing(visitor: Visitor, scene: Scene, one: Nurse, other: Nurse) -> None:
    """The comparison that stops, the cautions, the safety steps."""
    one.look_at_check(scene.place)
    visitor.take(one, "do not start")
    one.put_right("device")
    pair = Two(one=one, other=other, scene=scene)
    pair.read(scene.right)
    one.look_at_check(scene.place)
    visitor.take(one, "consider")
    one.acknowledge_all("The prescriber was asked", asked="Dr Holm (invented)")
    visitor.take(one, "consider, the other is waited for")
    one.follow(f"{other.who.printed_name}, ")
    visitor.take(one, "consider, on one screen")
    pair.acknowledge()
    one.look_at_check(scene.place)
    visitor.take(one, "agreed")


def taking_steps(visitor: Visitor, scene: Scene, one: Nurse, other: Nurse) -> None:
    """Group by group, in both parts."""
    for nurse in (one, other):
        nurse.look_at_check(scene.place)
        nurse.follow("Go on: safety steps")
    first, second = one, other
    visitor.take(first, "steps, the first")
    visitor.take(second, "steps, nobody has done anything")
    first.write("Primed volume", ".5")
    first.press("what is ticked")
    visitor.take(first, "steps, a volume that is not written safely")
    # Whoever has begun to tick is not led on: both say that they did one and the same.
    first.page.locator("[value=syringe-seated]").check()
    second.page.locator("[value=cover-locked]").check()
    second.press("I did")
    first.confirm_what_can_be(scene.baseline, scene.primed)
    second.look_at_check(scene.place)
    second.follow("Go on: safety steps")
    visitor.take(second, "steps, the two contradict each other, and the second verifies")
    second.page.locator("[name=done][value=cover-locked]").check()
    second.press("Nadia Ferrow did it")
    for turn in range(10):
        nurse = (second, first)[turn % 2]
        nurse.look_at_check(scene.place)
        if "Go on: safety steps" not in nurse.words:
            break
        nurse.follow("Go on: safety steps")
        nurse.confirm_what_can_be(scene.baseline, scene.primed)


def signing(visitor: Visitor, scene: Scene, one: Nurse, other: Nurse) -> None:
    """Both signatures, the last look, the record."""
    one.look_at_check(scene.place)
    one.follow("Go on: sign")
    visitor.take(one, "sign")
    one.sign("a wrong secret")
    visitor.take(one, "sign, refused")
    one.sign()
    visitor.take(one, "sign, one has signed")
    other.look_at_check(scene.place)
    other.follow("Go on: sign")
    other.sign()
    visitor.take(other, "last look")
    other.last_look()
    visitor.take(other, "last look, the other is waited for")
    one.look_at_check(scene.place)
    visitor.take(one, "ready to start")
    one.follow("Ready to start: last look")
    one.last_look()
    visitor.take(one, "last look, both have looked")
    one.start()
    visitor.take(one, "started, record being made")
    one.save_pdf(visitor.folder)
    visitor.take(one, "record")
    one.go("/")
    runs = one.page.get_by_role("table", name="On Ward 4 East")
    runs.get_by_role("link", name=f"Show: {scene.place}").click()
    one.sees_heading(f"Infusion, {scene.place}")
    visitor.take(one, "infusion, what is in force")
    pausing(visitor, one)
    runs.get_by_role("link", name=f"Show: {scene.place}").click()
    one.sees_heading(f"Infusion, {scene.place}")
    with one.page.expect_navigation():
        one.page.get_by_role("link", name="Stop the device now").click()
    visitor.take(one, "stop")
    with one.page.expect_navigation():
        one.page.get_by_role("button", name="The device was stopped").first.click()
    visitor.take(one, "stopped")
    one.go("/")
    visitor.take(one, "my checks")


def pausing(visitor: Visitor, one: Nurse) -> None:
    """The line is paused, and what is seen before it runs on is outside the protocol."""
    one.follow("Pause the line")
    visitor.take(one, "pause the line")
    one.press("Kink in the line")
    visitor.take(one, "my checks, a line is paused")
    one.follow("Let the line run on")
    visitor.take(one, "before the line runs on")
    one.choose("None: nothing was blocked")
    one.write("Respiratory rate", "7 or 8")
    one.press("The device shows exactly this")
    visitor.take(one, "before the line runs on, faults")
    one.write("Respiratory rate", "7")
    one.press("The device shows exactly this")
    visitor.take(one, "not resumed, outside the protocol")
    one.go("/")


MISREAD = {"lockout": "17 min", "demand_dose": "0.3 mg"}
# Under the drug library's hard limit.
TOO_SHORT = {"lockout": "4 min"}


def settling(ward: Ward, visitor: Visitor, scene: Scene) -> None:
    """Readings that differ, help, an exception, a check that is ended."""
    one = ward.nurse("n.ferrow")
    _readings_that_differ(ward, visitor, one, scene.at("14"))
    _a_rule(ward, visitor, one, scene.at("15"))
    _many_things(ward, visitor, one, scene.at("16"))
    lapsed = scene.at("17")
    Beforehand(running=ward.running, scene=lapsed).at_stage(Phase.CLEARED)
    one.look_at_check(lapsed.place)
    one.follow("Ready to start: last look")
    one.last_look(same=False)
    visitor.take(one, "clearance has lapsed")
    outside = scene.at("18")
    Beforehand(running=ward.running, scene=outside).at_stage(Phase.STEPS)
    one.look_at_check(outside.place)
    one.follow("Go on: safety steps")
    one.write_down({**scene.baseline, "sedation": "2", "respiratory_rate": "7"}, "2.3")
    one.press("what is ticked")
    visitor.take(one, "steps, outside the protocol")


def _readings_that_differ(ward: Ward, visitor: Visitor, one: Nurse, scene: Scene) -> None:
    misread = scene.right_but(device=MISREAD, monitor={"low_spo2": "90 %"})
    before = Beforehand(running=ward.running, scene=scene).compared(scene.right, misread)
    one.look_at_check(scene.place)
    visitor.take(one, "readings differ")
    one.read_these_again()
    visitor.take(one, "read again, only these")
    before.both_read(scene.right, misread).compares()
    before.reads_again().both_read(scene.right, misread).compares()
    one.look_at_check(scene.place)
    visitor.take(one, "readings differ, help is needed")
    one.follow("Ask for help")
    visitor.take(one, "ask for help")
    one.choose("Our readings do not come together")
    one.press("Ask for help")
    visitor.take(one, "help was asked for")
    charge = ward.helper("r.calloway")
    charge.go("/now")
    visitor.take(charge, "now, one waits for help")
    charge.look_at_check(scene.place, "Show")
    visitor.take(charge, "take a request")
    charge.page.get_by_role("button", name="Take this request for help").click()
    charge.sees_heading("Id and secret, once more")
    visitor.take(charge, "id and secret once more")
    charge.gives_once_more()
    visitor.take(charge, "settle, readings that differ")


def _a_rule(ward: Ward, visitor: Visitor, one: Nurse, scene: Scene) -> None:
    Beforehand(running=ward.running, scene=scene).compared(
        scene.right_but(chart={"sedatives": "none"}, order=TOO_SHORT, device=TOO_SHORT)
    )
    one.look_at_check(scene.place)
    visitor.take(one, "a rule stands against it")
    one.ask_for_help("A rule stands against what is ordered")
    visitor.take(one, "a rule, help was asked for")
    pharmacist = Helper(ward.device(), ward.running.person("p.varga"), ward.running.address)
    pharmacist.sign_in()
    pharmacist.take(scene.place)
    visitor.take(pharmacist, "settle, a rule")
    pharmacist.set_aside("hard limit", "The pain team wants it so for this patient.")
    visitor.take(pharmacist, "settle, set aside")
    pharmacist.settle("Exception granted", "Set aside once.")
    one.look_at_check(scene.place)
    visitor.take(one, "agreed, a rule set aside")


def _many_things(ward: Ward, visitor: Visitor, one: Nurse, scene: Scene) -> None:
    Beforehand(running=ward.running, scene=scene).compared(
        scene.right_but(
            chart={
                "allergy": "to-this-drug-or-its-family",
                "other_opioids": "charted",
                "opioid_tolerant": "no",
            },
            label={"use_by": "2020-01-31", "amount": "6 mg"},
            device={"demand_dose": "2 mg", "lockout": "6 min", "limit_amount": "none"},
            monitor={"capnography": "off"},
        )
    )
    one.look_at_check(scene.place)
    visitor.take(one, "many things")
    one.follow("Give this check up")
    visitor.take(one, "end this check")
    one.page.get_by_role("radio").first.check()
    one.press("Give this check up")
    visitor.take(one, "my checks, after the end")
    one.follow("An infusion had to start without a check")
    visitor.take(one, "without a check")
    one.write("Bed", "19")
    one.write("Why no check could be had", "Two arrests at the same time; nobody else was free.")
    one.press("Write it down")
    visitor.take(one, "running without a check")
    one.follow("Was it another bed?")
    visitor.take(one, "without a check, was it another bed")
    one.follow("It is this bed: back to my checks")
    typing_in(visitor, one)


def afterwards(ward: Ward, visitor: Visitor) -> None:
    """The charge nurse, quality, the administrator."""
    charge = ward.person("r.calloway")
    visitor.take(charge, "my checks, charge nurse")
    charge.go("/now")
    visitor.take(charge, "now")
    charge.go("/findings")
    visitor.take(charge, "findings")
    charge.go("/shift-sheet")
    visitor.take(charge, "shift sheet")
    charge.go("/downtime")
    visitor.take(charge, "papers for downtime")
    holding_beside(visitor, charge)
    placing_a_stop(visitor, charge)
    analyst = ward.person("q.lindqvist")
    analyst.go("/findings")
    analyst.page.get_by_role("link", name="Look through").first.click()
    visitor.take(analyst, "one finding")
    analyst.go("/findings/to-classify")
    visitor.take(analyst, "to be classified")
    given_to_quality(visitor, analyst)
    officer = ward.person("o.hale")
    officer.go("/syringes")
    visitor.take(officer, "syringes that do not add up")
    auditing_a_sample(ward, visitor, analyst)
    _verifying(visitor, analyst)
    administrator = ward.person("a.moreau")
    rules_of_the_site(visitor.take, ward.person("p.varga"), administrator)
    beds_and_units(visitor.take, administrator)
    letting_in(visitor, administrator)
    administrator.go("/accounts")
    visitor.take(administrator, "accounts")
    administrator.follow("Nadia Ferrow")
    visitor.take(administrator, "account")
    administrator.press("Give a new one-time code")
    visitor.take(administrator, "account, one-time code")
    code = administrator.page.locator(".one-time-code").inner_text()
    _a_new_key(ward, visitor, code)
    administrator.go("/accounts/new")
    administrator.press("Make the login")
    visitor.take(administrator, "new account, faults")
    # An administrator cannot read clinical data by that role alone.
    administrator.device.may_be_refused.add(403)
    administrator.go("/check/nothing")
    visitor.take(administrator, "not done")


def _verifying(visitor: Visitor, analyst: Person) -> None:
    analyst.go("/verify")
    analyst.press("Examine")
    visitor.take(analyst, "verify a record, a fault")
    analyst.page.get_by_label("The record's PDF").set_input_files(next(visitor.folder.glob("*.pdf")))
    analyst.press("Examine")
    visitor.take(analyst, "verify a record, answers")


def _a_new_key(ward: Ward, visitor: Visitor, code: str) -> None:
    who = replace(ward.running.person("n.ferrow"), secret="four invented words anew")
    nurse = Person(ward.device(), who, ward.running.address)
    nurse.go("/first-secret")
    nurse.write("Id", who.login)
    nurse.write("One-time code", code)
    nurse.write("New secret", who.secret)
    nurse.write("New secret, again", who.secret)
    nurse.press("Set the secret")
    nurse.write("Id", who.login)
    nurse.write("Secret", who.secret)
    nurse.page.get_by_label("Unit of this shift").select_option(who.unit)
    nurse.press("Sign in")
    visitor.take(nurse, "my signing key, not confirmed")
    colleague = ward.nurse("t.osmund", ward.device())
    colleague.go("/keys")
    colleague.follow("Nadia Ferrow")
    visitor.take(colleague, "confirm a key")


def handing_over(ward: Ward, visitor: Visitor, scene: Scene) -> None:
    """One shared device between two people, and a device that was cloned."""
    tablet, clone = ward.device(), ward.device()
    tablet.page.goto(f"{ward.running.address}/sign-in")
    clone.bring(tablet.context.cookies())
    other = ward.nurse("t.osmund", clone)
    one = ward.nurse("n.ferrow", tablet)
    before = Beforehand(running=ward.running, scene=scene).opens()
    before.drafts(before.first, scene.quiet)
    one.look_at_check(scene.place)
    one.hand_in_and_hand_over()
    visitor.take(one, "handed over")
    other.join_from_the_list(scene.place)
    visitor.take(other, "sign in anew")
