"""``leakdx open``: the machine to tap on, as a page in the browser or in JupyterLab.

Everything runs on this computer alone (loopback, with a secret in the address), out of a folder
of its own that is gone at the end.
"""
