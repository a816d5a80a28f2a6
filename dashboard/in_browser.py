"""Callbacks that only the browser can answer; their bodies stand in assets/isohume.js."""

from __future__ import annotations

from dash import ClientsideFunction, Dash, Input, Output, State


def answer_in_browser(
    app: Dash, name: str, output: Output, *given: Output | Input | State, prevent_initial_call: bool = True
) -> None:
    """Let the function `name` of assets/isohume.js answer; no script stands in the page itself."""
    function = ClientsideFunction("isohume", name)
    app.clientside_callback(  # type: ignore[no-untyped-call]  # Dash gives this method no types
        function, output, *given, prevent_initial_call=prevent_initial_call
    )
