"""The JSON Schema of a manifest, for programs; `python -m mediacheck.manifest.schema` prints it.

    python -m mediacheck.manifest.schema > docs/manifest.schema.json

It must not describe more than `document` holds: it is made from it.
"""

from __future__ import annotations

import json
import sys
from typing import Any

from pydantic.json_schema import GenerateJsonSchema

from mediacheck.manifest.document import Document
from mediacheck.profile_files import Untitled


def manifest_schema() -> dict[str, Any]:
    """The schema of a manifest, version 1 (JSON Schema draft 2020-12)."""
    schema = Document.model_json_schema(schema_generator=Untitled)
    head = {"$schema": GenerateJsonSchema.schema_dialect, "title": "mediacheck manifest, version 1"}
    return {**head, **{key: value for key, value in schema.items() if key != "title"}}


if __name__ == "__main__":
    sys.stdout.write(json.dumps(manifest_schema(), indent=2) + "\n")
