"""Published standards, one module each: pure functions, floats or arrays in, the same out.

Every public function carries a `Source` section: key of `feedtables/sources.csv`, where, and a
mark (print, restated, derived, memory). A test fails when a function has no check row.
"""

# name of each standard of needs, and the safety margin its own tables carry on energy and protein
MARGINS = {"AFRC 1993": 1.05, "NRC 1985": 1.0, "CSIRO 2007": 1.0}
