"""Sets that are whole and sets that are torn. SHA-256 of "abc": FIPS 180-4 example, NIST "SHA-256 example values"."""

import json

import pytest

from result_set import TornSet, whole

ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


@pytest.mark.parametrize(
    ("files", "listed", "torn"),
    [
        ({"a": "abc", "b": "abc"}, ["a", "b"], None),
        ({"a": "abc", "of_the_user": ""}, ["a"], None),
        ({"a": "abc", "b": "abd"}, ["a", "b"], ": b not"),
        ({"b": "abc"}, ["a", "b"], ": a not"),
        ({"a": "abc"}, None, "is missing"),
    ],
)
def test_a_torn_set_is_refused(tmp_path, files, listed, torn):
    for name, text in files.items():
        (tmp_path / name).write_text(text)
    if listed is not None:
        outputs = [{"name": name, "sha256": ABC} for name in listed]
        (tmp_path / "run.json").write_text(json.dumps({"outputs": outputs}))
    if torn is None:
        assert whole(tmp_path) == tmp_path
    else:
        with pytest.raises(TornSet, match=torn):
            whole(tmp_path)
