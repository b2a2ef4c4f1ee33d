"""Pages to print or to hand over: the job sheet for the bench, the customer sheet for the owner.

Each page is one HTML text that asks for nothing from outside.
"""
