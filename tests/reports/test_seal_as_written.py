"""Files that the site's own key sealed over every byte, and that are not in the form in which we seal.

Nobody else can make them; each is the least change of one that is recognised, sealed anew.
"""

import hashlib

import pytest

from app.reports.attachments import read_attachments
from app.reports.seal import structure
from app.reports.seal_as_written import attachments_of_sealed
from tests.reports.sealed import Story, recognised, sealer_of
from tests.reports.test_seal_tampered import gap, with_signature


def sealed_anew(story: Story, content: bytes, *, gap_of: bytes) -> bytes:
    """A seal in our form over these bytes, in the gap where another file has it."""
    begin, end = gap(gap_of)
    digest = hashlib.sha256(content[:begin] + content[end:]).digest()
    made = with_signature(gap_of, structure(sealer_of(story.keys), digest))
    return content[:begin] + made[begin:end] + content[end:]


def changed(story: Story, old: bytes, new: bytes) -> bytes:
    """The sealed file with one thing in its last revision put otherwise, in as many bytes."""
    assert len(old) == len(new)
    at = story.sealed.rindex(old)
    return story.sealed[:at] + new + story.sealed[at + len(old) :]


def test_a_seal_made_anew_is_recognised(story: Story) -> None:
    assert sealed_anew(story, story.sealed, gap_of=story.sealed) == story.sealed
    later = changed(story, b"D\\07220310502", b"D\\07220310503")
    assert recognised(sealed_anew(story, later, gap_of=story.sealed), story.certificate)


def rest_of(story: Story) -> bytes:
    _, end = gap(story.sealed)
    return str(len(story.sealed) - end).encode()


def reference_of(story: Story) -> bytes:
    """The number of the seal's object."""
    begin, _ = gap(story.sealed)
    number: bytes = story.sealed[:begin].split(b"\n")[-3].split()[0]
    return number


def another(number: bytes) -> bytes:
    """Another number of as many digits."""
    return bytes([number[0] ^ 1]) + number[1:]


OTHERWISE = {
    "its range ends earlier": lambda story: changed(
        story, rest_of(story) + b"]", str(int(rest_of(story)) - 1).encode() + b"]"
    ),
    "its range leaves out a byte more": lambda story: changed(
        story, b" %d " % gap(story.sealed)[1], b" %d " % (gap(story.sealed)[1] + 1)
    ),
    "forms may be filled in": lambda story: changed(story, b"\n/P 1\n", b"\n/P 2\n"),
    "of another kind": lambda story: changed(story, b"/ETSI.CAdES.detached", b"/adbe.pkcs7.detached"),
    "no permissions": lambda story: changed(story, b"\n/Perms <<", b"\n/Permz <<"),
    "permissions by another object": lambda story: changed(
        story, b"/DocMDP " + reference_of(story), b"/DocMDP " + another(reference_of(story))
    ),
    "a field with another value": lambda story: changed(
        story, b"/V " + reference_of(story), b"/V " + another(reference_of(story))
    ),
    "two fields": lambda story: changed(story, b"/SigFlags 3", b"/SigFlags 1"),
    "no day at all": lambda story: changed(story, b"D\\07220310502", b"D\\07220310532"),
}


@pytest.mark.parametrize("what", OTHERWISE)
def test_a_whole_seal_in_another_form_goes_the_long_way(story: Story, what: str) -> None:
    assert not recognised(sealed_anew(story, OTHERWISE[what](story), gap_of=story.sealed), story.certificate)


def test_what_is_recognised_is_taken_apart_alike(story: Story) -> None:
    assert attachments_of_sealed(story.sealed) == read_attachments(story.sealed)
    assert attachments_of_sealed(b"no PDF") is None
