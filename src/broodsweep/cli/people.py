"""`people`: who may sign in at a shared desk."""

from __future__ import annotations

from contextlib import closing
from typing import Annotated

import typer

from broodsweep.cli.options import HomeOption, JsonOption
from broodsweep.cli.speech import help_text, print_json, print_line, print_table
from broodsweep.desk.access import Role


def people(
    add: Annotated[
        str | None,
        typer.Option("--add", metavar="NAME", help=help_text("cli.people.add"), show_default=False),
    ] = None,
    role: Annotated[Role, typer.Option("--role", help=help_text("cli.people.role"))] = Role.INSPECTOR,
    inspector: Annotated[
        str | None,
        typer.Option(
            "--inspector", metavar="KEY", help=help_text("cli.people.inspector"), show_default=False
        ),
    ] = None,
    invite: Annotated[
        str | None,
        typer.Option("--invite", metavar="NAME", help=help_text("cli.people.invite"), show_default=False),
    ] = None,
    retire: Annotated[
        str | None,
        typer.Option("--retire", metavar="NAME", help=help_text("cli.people.retire"), show_default=False),
    ] = None,
    home: HomeOption = None,
    as_json: JsonOption = False,
) -> None:
    """List who may sign in; add somebody, invite again, or let in no more."""
    from broodsweep.access import open_access
    from broodsweep.bootstrap import author, clock, default_home

    folder = home or default_home()
    folder.mkdir(parents=True, exist_ok=True)
    by = author().who
    with closing(open_access(folder, now=clock)) as access:
        codes = {}
        if add is not None:
            codes[add] = access.people.add(add, role, by=by, inspector=inspector)
        if invite is not None:
            codes[invite] = access.people.invite(invite, by=by)
        if retire is not None:
            access.people.retire(retire, by=by)
        listed = access.people.everyone()
    if as_json:
        print_json({"people": listed, "invitations": codes})
        return
    rows = [
        [
            row.name,
            help_text(f"access.role_{row.role}"),
            row.inspector or "",
            help_text(
                "cli.people.left"
                if row.retired_at
                else "cli.people.in"
                if row.has_password
                else "cli.people.invited"
            ),
        ]
        for row in listed
    ]
    if rows:
        print_table([f"cli.people.column_{name}" for name in ("name", "role", "inspector", "state")], rows)
    else:
        print_line("cli.people.nobody")
    for name, code in codes.items():
        print_line("cli.people.code", who=name, code=code)
