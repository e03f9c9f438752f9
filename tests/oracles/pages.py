"""What do independent readers find in pages that were written for the field and for clients?

Standard input: {"html": path or null, "pdf": path or null}. Standard output: of the page its parse errors, title, language,
visible text, every address that leads out of it, headings, images without a description, labels of what can be operated,
table cells and data sizes; of the printed one its pages, their sizes, text, title and embedded fonts.
"""

import json
import sys

import html5lib
import pypdf

question = json.load(sys.stdin)
answer = {"html": None, "pdf": None}


def local(name):
    return name.rsplit("}", 1)[-1]


def words(element, hidden=("script", "style", "svg", "head")):
    if not isinstance(element.tag, str) or local(element.tag) in hidden:
        return ""
    inner = [element.text or ""]
    for child in element:
        inner.append(words(child, hidden))
        inner.append(child.tail or "")
    return " ".join(inner)


if question["html"]:
    with open(question["html"], "rb") as file:
        raw = file.read()
    parser = html5lib.HTMLParser(strict=False)
    tree = parser.parse(raw)
    elements = [element for element in tree.iter() if isinstance(element.tag, str)]
    leads_out, bare, labelled = [], 0, []
    for element in elements:
        name = local(element.tag)
        for attribute in ("src", "href", "srcset", "data", "action", "poster", "{http://www.w3.org/1999/xlink}href"):
            value = element.get(attribute)
            if value is not None and not value.startswith("data:") and not value.startswith("#"):
                leads_out.append(f"{name} {attribute}={value[:80]}")
        if name == "img" and element.get("alt") is None:
            bare += 1
        if name == "svg" and not (element.get("role") == "img" and element.get("aria-label")):
            bare += 1
        if name in ("input", "select", "button"):
            labelled.append(element.get("aria-label") or element.get("id") or "")
    style = "".join(element.text or "" for element in elements if local(element.tag) == "style")
    for sign in ("url(", "@import", "http:", "https:"):
        if sign in style:
            leads_out.append(f"style {sign}")
    pick = lambda name: [" ".join(words(element).split()) for element in elements if local(element.tag) == name]
    root = next(element for element in elements if local(element.tag) == "html")
    answer["html"] = {
        "errors": [f"{place}: {code}" for place, code, _ in parser.errors],
        "title": next(" ".join((element.text or "").split()) for element in elements if local(element.tag) == "title"),
        "language": root.get("lang"),
        "text": " ".join(words(tree).split()),
        "leads_out": leads_out,
        "headings": pick("h1") + pick("h2") + pick("h3"),
        "undescribed": bare,
        "operated": labelled,
        "rows": [[" ".join(words(cell).split()) for cell in row] for row in elements if local(row.tag) == "tr"],
        "pictures": sum(1 for element in elements if local(element.tag) == "img" and (element.get("src") or "").startswith("data:image/jpeg")),
        "bytes": len(raw),
    }

if question["pdf"]:
    reader = pypdf.PdfReader(question["pdf"], strict=True)
    fonts = set()
    for page in reader.pages:
        for font in (page["/Resources"].get("/Font") or {}).values():
            fonts.add(str(font.get_object().get("/BaseFont")))
    answer["pdf"] = {
        "pages": len(reader.pages),
        "sizes": [[float(page.mediabox.width), float(page.mediabox.height)] for page in reader.pages],
        "text": " ".join(" ".join(page.extract_text() for page in reader.pages).split()),
        "title": reader.metadata.title if reader.metadata else None,
        "fonts": sorted(fonts),
        "pictures": sum(len(page.images) for page in reader.pages),
    }

json.dump(answer, sys.stdout)
