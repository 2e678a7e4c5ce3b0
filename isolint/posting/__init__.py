"""A review on a forge: comments on the lines of a request, and one summary, brought up to date and never repeated.

In: the JSON of a review, a forge and a request. Out: requests to that forge. The file may come from anybody: only its
fields are used, every text is made here. Who wrote, answered, resolved or deleted something is asked of the forge, not
of the file. Knows no netlist and no stage; httpx is loaded where something is sent, and nowhere else.
"""
