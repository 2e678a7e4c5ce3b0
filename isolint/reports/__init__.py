"""Reports: what a run found, written down.

In: a `Report` (or worksheet sections, rule records, effective facts). Out: text, one pure function a format.
A format knows neither the other formats nor the stages before; it reads no files, looks at no clock and sorts
nothing: the report comes in its final order. All text of foreign origin passes through `escape`.
"""
