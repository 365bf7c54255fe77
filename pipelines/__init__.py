"""lanugo: a unit's newborn admission records, judged, measured and told."""

import sys

# The charts' library checks its own specifications with jsonschema, which builds a grammar for
# one kind of address (IRI) as it is imported, in half of the time all imports take together.
# No schema of ours, or of a library used here, asks for that check.
sys.modules.setdefault("rfc3987_syntax", None)  # type: ignore[arg-type]
