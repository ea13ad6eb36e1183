"""Every JSON output of the main job keeps its published schema, and no schema is so loose that it accepts anything."""

import json

import jsonschema
import pytest

import program

pytestmark = pytest.mark.reference("jsonschema")

SCHEMAS = sorted((program.ROOT / "crates/report/schema").glob("*.json"))


def name_of(schema):
    return schema.name.split(".")[0]


def validator(path):
    schema = json.loads(path.read_text())
    kind = jsonschema.validators.validator_for(schema)
    kind.check_schema(schema)
    return kind(schema)


def test_every_output_has_a_schema_and_keeps_it(demonstration, measured):
    validators = {name_of(path): validator(path) for path in SCHEMAS}
    outputs = sorted([*demonstration.out.glob("*.geojson"), *demonstration.out.glob("*.json")])
    assert {"parcels", "paths", "crossings", "reaches", "watersheds", "links", "buffers", "terrain_changes", "run"} <= {
        output.stem for output in outputs
    }
    problems = []
    for output in outputs:
        assert output.stem in validators, f"no schema for {output.name}"
        for error in validators[output.stem].iter_errors(json.loads(output.read_text())):
            problems.append(f"{output.name} at {error.json_path}: {error.message}"[:300])
    assert not problems, "\n".join(problems[:20])
    measured(f"{len(outputs)} outputs valid: {', '.join(output.name for output in outputs)}")


def test_the_check_of_capacity_keeps_its_schemas(demonstration, tmp_path, measured):
    out = tmp_path / "capacity"
    program.run("capacity", demonstration.file, "--out", out, "--add", "0527-010-006-00200=0.5in/d")
    outputs = sorted([*out.glob("*.geojson"), *out.glob("*.json")])
    assert [output.stem for output in outputs] == ["capacity", "parcels", "run"]
    for output in outputs:
        errors = list(validator(program.ROOT / f"crates/report/schema/{output.stem}.schema.json").iter_errors(json.loads(output.read_text())))
        assert not errors, f"{output.name} at {errors[0].json_path}: {errors[0].message}"
    collection = json.loads((out / "capacity.geojson").read_text())
    collection["features"] = [{**collection["features"][0], "properties": {}}]
    assert not validator(program.ROOT / "crates/report/schema/capacity.schema.json").is_valid(collection)
    measured(f"{len(outputs)} outputs valid")


def test_a_schema_refuses_a_feature_without_its_properties(demonstration):
    for path in SCHEMAS:
        output = demonstration.out / f"{name_of(path)}.geojson"
        if output.is_file() and (features := json.loads(output.read_text())["features"]):
            collection = json.loads(output.read_text())
            collection["features"] = [{**features[0], "properties": {}}]
            assert not validator(path).is_valid(collection), f"{path.name} accepts a feature without properties"
