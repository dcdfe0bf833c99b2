"""The write-up: charts, equations, references and the page."""

import sys

# jsonschema's optional rfc3987_syntax costs over a second at every start; charts do not need it.
sys.modules.setdefault("rfc3987_syntax", None)
