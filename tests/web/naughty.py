"""Texts of our own making that break what is written carelessly: each should come back exactly, and do nothing.

Contents: NAUGHTY (more than 300 texts). Made by rule from short lists, so that the list can be read and added to.
"""

# ruff: noqa: E501 (lines of texts)
from __future__ import annotations

CANARY = "window.canary=1"
HANDLERS = ("onload", "onerror", "onfocus", "onmouseover", "onclick", "ontoggle", "onanimationstart", "onpointerenter")
TAGS = ("img src=x", "svg", "body", "input autofocus", "details open", "video src=x", "iframe src=x", "math")
BREAKERS = (
    '"', "'", "`", ">", "'>", '">', "-->", "--!>", "]]>", "</script>", "</style>", "</textarea>", "</title>", "</svg>", "*/", "\\",
    "\\'", '\\"', "${", "{{", "{%", "{#", "<%", "<?", "#{", "%}", "}}", "\u2028", "\u2029", "&quot;", "&#39;", "&lt;", "%22", "%3E",
)  # fmt: skip
SCHEMES = (
    "javascript:",
    "JaVaScRiPt:",
    "java\tscript:",
    "\x01javascript:",
    "data:text/html,",
    "vbscript:",
    " javascript:",
)
TEMPLATES = ("{{7*7}}", "${7*7}", "#{7*7}", "<%= 7*7 %>", "{{config}}", "{% raw %}", "{{''.__class__}}", "%(x)s", "{0}", "{x!r}",
             "%s%n", "$HOME", "`id`", "$(id)", "#set($x=1)", "[[7*7]]", "*{7*7}", "@{7*7}")  # fmt: skip
PATHS = ("../../etc/passwd", "..\\..\\boot.ini", "/etc/passwd", "C:\\x", "\\\\server\\x", "file:///x", "con", "aux.txt", "nul",
         "a/../b", "~", "~/x", "./x", ".", "..", "x\x7fy", "a:b", "a|b", "a*b?", "x.png.html", "x.jpg;.html")  # fmt: skip
FORMULAS = tuple(
    f"{sign}{rest}" for sign in ("=", "+", "-", "@", "\t=", "\r=") for rest in ("1+1", "cmd|' /C x'!A0", "A1")
)
QUERIES = ("' OR '1'='1", "1; DROP TABLE entry", "\" OR \"\"=\"", "x' --", "%' AND 1=1", "_", "%", "NULL", "null", "None",
           "undefined", "NaN", "true", "0", "-0", "1e400", "0x10", "1,5", "\u0661\u0662", "\u00bd")  # fmt: skip
SCRIPTS = ("\u6e7f\u5ea6", "\u0631\u0637\u0648\u0628\u0629", "\u05e8\u05d8\u05d9\u05d1\u05d5\u05ea", "\u0928\u092e\u0940",
           "\u0432\u043b\u0430\u0433\u0430", "\u03c5\u03b3\u03c1\u03b1\u03c3\u03af\u03b1", "\U0001f4a7", "\U0001f469\u200d\U0001f692",
           "e\u0301", "\u00e9", "\u212b", "\ufb01", "\u0130", "\u00df", "\U00010348", "Z\u0335\u0321a\u0336")  # fmt: skip
INVISIBLE = tuple(
    f"a{sign}b"
    for sign in (
        "\u200b", "\u200d", "\u200e", "\u200f", "\u202a", "\u202e", "\u2066", "\u2069", "\ufeff", "\u00a0", "\u00ad", "\u0000", "\u0001",
        "\u0007", "\u0008", "\u000b", "\u000c", "\u001b[31m", "\u007f", "\u0085", "\ufffd", "\ufffe", "\n", "\r\n", "\r", "\t", "\u180e",
        "\u3000", "\u2060", "\ufff9",
    )
)  # fmt: skip
LONG = ("x" * 5_000, "\u202e" * 200, "W" * 300, "a " * 1_000, "\u0301" * 300, "<" * 500, "&amp;" * 200, "\n" * 100)

_MARKUP = tuple(f"<{tag} {handler}={CANARY}>" for tag in TAGS for handler in HANDLERS)
_BROKEN = tuple(f"{breaker}<img src=x onerror={CANARY}>" for breaker in BREAKERS) + tuple(
    f"{quote} {handler}={CANARY} x={quote}" for quote in ('"', "'", "`", "") for handler in HANDLERS
)
_LINKS = tuple(f"{scheme}{CANARY}" for scheme in SCHEMES) + tuple(
    f"<a href={scheme}{CANARY}>x</a>" for scheme in SCHEMES
)
_SCRIPTS = (
    f"<script>{CANARY}</script>", f"<ScRiPt>{CANARY}</sCrIpT>", f"<script src=//elsewhere.invalid/x></script><b>{CANARY}</b>",
    f"<svg><script>{CANARY}</script></svg>", f"<style>@import'//elsewhere.invalid'</style>{CANARY}", f"<base href=//x.invalid>{CANARY}",
    f"<link rel=stylesheet href=//elsewhere.invalid/x>{CANARY}", f"<meta http-equiv=refresh content=0;url=//x.invalid>{CANARY}",
    f"<form action=//x.invalid><button>{CANARY}</button></form>", f"<object data=//x.invalid>{CANARY}</object>",
)  # fmt: skip

NAUGHTY: tuple[str, ...] = tuple(
    dict.fromkeys(
        _MARKUP
        + _BROKEN
        + _LINKS
        + _SCRIPTS
        + TEMPLATES
        + PATHS
        + FORMULAS
        + QUERIES
        + SCRIPTS
        + INVISIBLE
        + LONG
        + BREAKERS
    )
)
