"""The roles of a shop's people, and the sets of them that doors ask for."""

WRITER = "writer"
TECHNICIAN = "technician"
OFFICE = "office"
OWNER = "owner"
ROLES = (WRITER, TECHNICIAN, OFFICE, OWNER)

STAFF = frozenset(ROLES)
COUNTER = frozenset({WRITER, OWNER})
BENCH = frozenset({TECHNICIAN, OWNER})
DESK = frozenset({OFFICE, OWNER})
COUNTER_OR_DESK = frozenset({WRITER, OFFICE, OWNER})
COUNTER_OR_BENCH = frozenset({WRITER, TECHNICIAN, OWNER})
SHOP_OWNER = frozenset({OWNER})
ANYONE = frozenset({"anyone"})
"""No sign-in at all: the customer's link carries its own proof."""
