"""The tree of the log: published vectors, another library, the RFC's own recursion, what breaks a proof."""

import hashlib

import pymerkle
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.records.proofs import BLOCK, EMPTY_ROOT, Tree, is_included, leaf_hash, node_hash

# The eight leaves, the roots and the proofs that the reference implementations of Certificate Transparency
# (RFC 6962) test themselves with.
LEAVES = [
    bytes.fromhex(each)
    for each in (
        "",
        "00",
        "10",
        "2021",
        "3031",
        "40414243",
        "5051525354555657",
        "606162636465666768696a6b6c6d6e6f",
    )
]
ROOTS = [
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
]
# Index of the entry, size of the tree, path.
INCLUSIONS = [
    (0, 1, []),
    (
        0,
        8,
        [
            "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
            "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
            "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4",
        ],
    ),
    (
        5,
        8,
        [
            "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
            "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
            "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
        ],
    ),
    (2, 3, ["fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125"]),
    (
        1,
        5,
        [
            "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
            "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
            "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
        ],
    ),
]
SIZES = st.integers(min_value=1, max_value=70)


def entries(size: int) -> list[bytes]:
    return [f'{{"position":{number}}}'.encode() for number in range(1, size + 1)]


def written_as_in_the_rfc(leaves: list[bytes]) -> bytes:
    """RFC 6962, 2.1, word for word."""
    if not leaves:
        return hashlib.sha256().digest()
    if len(leaves) == 1:
        return hashlib.sha256(b"\x00" + leaves[0]).digest()
    split = 1
    while split * 2 < len(leaves):
        split *= 2
    left, right = written_as_in_the_rfc(leaves[:split]), written_as_in_the_rfc(leaves[split:])
    return hashlib.sha256(b"\x01" + left + right).digest()


def included(tree: Tree, index: int, size: int, /, **changed: object) -> bool:
    given = {
        "leaf": leaf_hash(entries(size)[index]),
        "index": index,
        "size": size,
        "path": tree.inclusion(index, size),
        "root": tree.root(size),
    }
    return is_included(**given | changed)  # type: ignore[arg-type]  # a test may give anything


def flipped(hashed: bytes) -> bytes:
    return bytes([hashed[0] ^ 1]) + hashed[1:]


@pytest.mark.parametrize("size", range(9))
def test_the_published_roots(size: int) -> None:
    assert Tree(LEAVES).root(size).hex() == ROOTS[size]


@pytest.mark.parametrize(("index", "size", "path"), INCLUSIONS)
def test_the_published_inclusion_proofs(index: int, size: int, path: list[str]) -> None:
    assert [step.hex() for step in Tree(LEAVES).inclusion(index, size)] == path
    given_path = [bytes.fromhex(step) for step in path]
    root = bytes.fromhex(ROOTS[size])
    assert is_included(leaf=leaf_hash(LEAVES[index]), index=index, size=size, path=given_path, root=root)


def test_an_empty_log() -> None:
    assert Tree().root(0) == EMPTY_ROOT
    assert EMPTY_ROOT.hex() == ROOTS[0]


@given(SIZES)
def test_every_root_is_the_rfc_s_and_another_library_s(size: int) -> None:
    leaves = entries(size)
    other = pymerkle.InmemoryTree(algorithm="sha256")
    other.append_entries(leaves)
    assert Tree(leaves).root(size) == written_as_in_the_rfc(leaves) == other.get_root()


@given(SIZES, st.data())
def test_every_inclusion_proof_holds_and_is_another_library_s(size: int, data: st.DataObject) -> None:
    index = data.draw(st.integers(0, size - 1))
    leaves = entries(70)
    tree = Tree(leaves)
    other = pymerkle.InmemoryTree(algorithm="sha256")
    other.append_entries(leaves)
    # Its path begins with the leaf itself.
    assert list(tree.inclusion(index, size)) == other.prove_inclusion(index + 1, size).path[1:]
    assert is_included(
        leaf=leaf_hash(leaves[index]),
        index=index,
        size=size,
        path=tree.inclusion(index, size),
        root=tree.root(size),
    )


def test_a_tree_that_grows_is_the_tree_of_all_its_entries() -> None:
    tree = Tree()
    for size, entry in enumerate(entries(200), start=1):
        tree.extend([entry])
        assert tree.size == size
    assert [tree.root(size) for size in range(201)] == [
        written_as_in_the_rfc(entries(size)) for size in range(201)
    ]


# The least change breaks it.


@given(SIZES, st.data())
def test_no_part_of_an_inclusion_proof_can_be_another(size: int, data: st.DataObject) -> None:
    index = data.draw(st.integers(0, size - 1))
    tree = Tree(entries(size))
    path = tree.inclusion(index, size)
    assert included(tree, index, size)
    assert not included(tree, index, size, leaf=leaf_hash(b"another entry"))
    assert not included(tree, index, size, root=flipped(tree.root(size)))
    assert not included(tree, index, size, path=[*path, path[-1] if path else tree.root(size)])
    for number in range(len(path)):
        assert not included(tree, index, size, path=path[:number] + path[number + 1 :])
        assert not included(
            tree, index, size, path=(*path[:number], flipped(path[number]), *path[number + 1 :])
        )


@pytest.mark.parametrize("index", range(8))
def test_a_node_of_the_tree_with_the_rest_of_a_path_is_no_entry_of_it(index: int) -> None:
    """The hashes lead to the root, and the path is too short for a tree of that size."""
    tree = Tree(entries(8))
    path = tree.inclusion(index, 8)
    pair = [leaf_hash(each) for each in entries(8)][index - index % 2 : index - index % 2 + 2]
    assert is_included(leaf=node_hash(*pair), index=index // 2, size=4, path=path[1:], root=tree.root(8))
    assert not included(tree, index, 8, leaf=node_hash(*pair), path=path[1:], index=index // 2)


def test_a_root_with_no_path_is_the_only_entry_of_no_larger_tree() -> None:
    root = Tree(entries(8)).root(8)
    assert not is_included(leaf=root, index=0, size=8, path=[], root=root)


@given(SIZES, st.data())
def test_an_entry_stands_at_no_other_index(size: int, data: st.DataObject) -> None:
    index, other = data.draw(st.integers(0, size - 1)), data.draw(st.integers(-3, 80))
    tree = Tree(entries(size))
    assert included(tree, index, size, index=other) == (other == index)


@pytest.mark.parametrize("size", [1, 2, 3, 4, 7, 8, 9, 31, 32, 33])
def test_an_entry_is_in_no_tree_of_another_size(size: int) -> None:
    tree = Tree(entries(size))
    for other in range(40):
        # The same path may fit a tree of another size; its root is then another.
        root = Tree(entries(other)).root(other)
        assert included(tree, size - 1, size, size=other, root=root) == (other == size)


@pytest.mark.parametrize(("index", "size"), [(5, 5), (0, 0), (-1, 5), (0, 11)])
def test_a_proof_beyond_the_tree_is_a_bug(index: int, size: int) -> None:
    with pytest.raises(ValueError, match="not that large"):
        Tree(entries(10)).inclusion(index, size)


@pytest.mark.parametrize("size", [-1, 11])
def test_a_root_beyond_the_tree_is_a_bug(size: int) -> None:
    with pytest.raises(ValueError, match="not that large"):
        Tree(entries(10)).root(size)


def test_a_node_cannot_pass_for_an_entry() -> None:
    """RFC 6962, 2.1: the two kinds of hash begin with different bytes."""
    left, right = leaf_hash(b"one"), leaf_hash(b"two")
    assert leaf_hash(left + right) != node_hash(left, right)
    assert Tree([b"one", b"two"]).root(2) != Tree([left + right]).root(1)


@pytest.mark.parametrize("kept", [0, 1, 2, 3])
def test_a_tree_that_begins_with_the_roots_of_blocks_goes_on_as_the_whole_one(kept: int) -> None:
    log = entries(3 * BLOCK + 77)
    whole = Tree(log)
    assert [each.hex() for each in whole.blocks(len(log))] == [
        Tree(log[start : start + BLOCK]).root(BLOCK).hex() for start in range(0, 3 * BLOCK, BLOCK)
    ]
    begun = Tree(log[kept * BLOCK :], blocks=whole.blocks(kept * BLOCK))
    assert begun.size == whole.size
    assert begun.blocks(len(log)) == whole.blocks(len(log))
    for size in range(max(kept * BLOCK, 1), len(log) + 1):
        assert begun.root(size) == whole.root(size)
    for index in range(kept * BLOCK, len(log)):
        assert not begun.is_closed(index)
        assert begun.inclusion(index, len(log)) == whole.inclusion(index, len(log))


@pytest.mark.parametrize("index", [0, BLOCK - 1, BLOCK, 2 * BLOCK + 5])
def test_a_block_is_opened_for_the_place_of_an_entry_in_it(index: int) -> None:
    log = entries(3 * BLOCK + 77)
    whole, number = Tree(log), index // BLOCK
    begun = Tree(log[3 * BLOCK :], blocks=whole.blocks(3 * BLOCK))
    assert begun.is_closed(index)
    begun.open_block(number, log[number * BLOCK : (number + 1) * BLOCK])
    assert not begun.is_closed(index)
    assert begun.inclusion(index, len(log)) == whole.inclusion(index, len(log))
    end = number * BLOCK + 70
    assert begun.root(end) == whole.root(end)
