"""Checks of [burn]: devices there are, forms named once, addresses that are the image's."""

from __future__ import annotations

from pipeline.plain.checked import Document
from pipeline.plain.sizes import show_size
from pipeline.project.model import LoadedProject
from pipeline.target.burn_devices import device_sizes


def check_burn(document: Document, project: LoadedProject) -> None:
    """Note every problem of the table for burning, beside the target."""
    burn = project.spec.burn
    if burn is None:
        return
    if not burn.forms:
        document.say(("burn", "forms"), "is empty", "name at least one form, or remove [burn]")
    for form in sorted({form for form in burn.forms if burn.forms.count(form) > 1}):
        document.say(("burn", "forms"), f"{form} is there twice", "name each form once")
    for form in dict.fromkeys(burn.forms):
        sizes = device_sizes(form)
        if burn.device is not None and burn.device not in sizes:
            known = ", ".join(show_size(size) for size in sizes)
            document.say(("burn", "device"), f"no device of {show_size(burn.device)} is known for {form}", f"the sizes are {known}")
    if burn.addresses != "from 0" and project.target.cartridge.banks:
        wrong = f"{project.target.name} sees its cartridge through a window, so that addresses of banks are alike"
        document.say(("burn", "addresses"), wrong, 'set addresses = "from 0", or leave it out')
