"""The sign-in page: plain HTML without scripts."""

from __future__ import annotations

from html import escape

_PAGE = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Sign in · isohume</title>
<link rel="icon" type="image/svg+xml" href="/assets/icon.svg">
<link rel="stylesheet" href="/assets/00_fonts.css">
<style>
body {{ margin: 0; min-height: 100vh; display: grid; place-items: center; background: #f4f1ea; color: #1f2528;
  font: 16px/1.5 "Source Sans 3 Variable", system-ui, sans-serif; }}
form {{ width: min(22rem, calc(100vw - 3rem)); }}
h1 {{ font: 600 1.9rem/1.2 "Source Serif 4 Variable", Georgia, serif; margin: 0 0 .25rem; }}
p {{ margin: 0 0 1.5rem; }}
label {{ display: block; font-size: .9rem; margin: 1rem 0 .25rem; }}
input {{ width: 100%; box-sizing: border-box; font: inherit; padding: .6rem .7rem; border: 1px solid #6d7478;
  background: #fffefb; color: inherit; }}
button {{ margin-top: 1.5rem; font: inherit; font-weight: 600; padding: .6rem 1.4rem; border: 0; background: #1f2528;
  color: #fffefb; cursor: pointer; }}
input:focus-visible, button:focus-visible {{ outline: 3px solid #0072b2; outline-offset: 2px; }}
.also {{ margin: 2rem 0 0; font-size: .9rem; }}
.also a {{ color: inherit; }}
.said {{ border-left: 4px solid #b3490a; padding-left: .75rem; }}
</style>
</head>
<body>
<main>
<form method="post" action="/login">
<h1>isohume</h1>
<p>The climate of sealed picture frames. Sign in to go on.</p>
{said}
<input type="hidden" name="csrf_token" value="{token}">
<input type="hidden" name="next" value="{next_path}">
<label for="name">Name</label>
<input id="name" name="name" autocomplete="username" required autofocus maxlength="200">
<label for="password">Password</label>
<input id="password" name="password" type="password" autocomplete="current-password" required maxlength="200">
<button type="submit">Sign in</button>
{also}</form>
</main>
</body>
</html>
"""


def login_page(*, token: str, next_path: str, said: str = "", open_page: tuple[str, str] | None = None) -> str:
    """Return the page; everything put in is shown as text. `open_page`: path and name of one that needs no account."""
    remark = f'<p class="said" role="alert">{escape(said)}</p>' if said else ""
    also = f'<p class="also"><a href="{escape(open_page[0])}">{escape(open_page[1])}</a></p>' if open_page else ""
    return _PAGE.format(said=remark, token=escape(token), next_path=escape(next_path), also=also)
