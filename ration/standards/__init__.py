"""Published standards, one module each: pure functions, floats or arrays in, the same out.

Every public function carries a `Source` section: key of `feedtables/sources.csv`, where, and a
mark (print, restated, derived, memory). A test fails when a function has no check row.
"""
