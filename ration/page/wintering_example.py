"""A section `wintering:` to begin with; every figure in it is invented and says so."""

EXAMPLE = """\
# ---------------------------------------------------------------- which way to winter
# AN EXAMPLE: every figure below is invented. Put your own in the place of each, and take out
# the ways you do not have. Each way costs what it would if all of them went that way.
wintering:
  wage: 13 /h                     # your own time too
  value of a hogg: 100            # what a dead one would have been worth
  margin of a lamb crop: 60       # lost with every ewe that is barren for it
  wool: 10 p a kg
  interest: 6 %                   # a year
  prices:                         # of feed put out by hand below
    hay: 130 /t
    cubes: 290 /t
  ways:
    away:
      keep: 90 p a week           # a head
      paid on: heads sent         # or heads returned
      haulage: 2.50 each way
      visits: {number: 4, miles: 100, rate: 45 p a mile, hours: 4}
      doses: 2 each
      deaths: 2 %
      heavier: 5 kg               # in spring, than from the lightest way
    hill:
      doses: 1 each
      feed:
        hay: 0.3 kg a day
      labour: 40 min a day
      deaths: 6 %
      less wool: 0.3 kg
      more barren: 4 %
    in-bye:
      doses: 1 each
      feed:
        hay: 0.6 kg a day
        cubes: 0.1 kg a day
      labour: 40 min a day
      land: {area: 8 ha, lost grass: 0.5 t DM a ha, worth: 100 /t DM, repair: 150}
      deaths: 3 %
      heavier: 4 kg
    housed:
      place: shed
      doses: 1 each
      feed:
        hay: 0.8 kg a day
        cubes: 0.2 kg a day
      labour: 45 min a day
      bedding: 1.50 each          # straw, less what the dung is worth
      building: {capital: 8000, years: 12, upkeep: 2 %, share: 60 %}
      deaths: 1.5 %
      heavier: 6 kg
"""


def with_example(text: str) -> str:
    """A farm file with the example put at its end."""
    end = "\r\n" if "\r\n" in text else "\n"
    return text.rstrip() + end * 2 + EXAMPLE.replace("\n", end)
