"""What does a browser make of a page, and what do its hands on the slider?

Standard input: {"page": path, "sizes": [[across, down], ...]}, in CSS pixels. Standard output: for each size, by day and by
night, what axe-core finds against WCAG 2 A and AA, what the console complains of, what was asked of a network and by how
many pixels the page is too wide; where there is a slider, its value and how much of the left picture is shown, before and
after it is dragged with the pointer and pressed with a key; and whether a script that was put into the page has run.
"""

import json
import pathlib
import sys

from axe_core_python import base
from selenium import webdriver
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

question = json.load(sys.stdin)
axe = pathlib.Path(base.__file__).with_name("axe.min.js").read_text("utf-8")

options = webdriver.ChromeOptions()
options.binary_location = "/usr/bin/chromium"
for argument in ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--hide-scrollbars"):
    options.add_argument(argument)
options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
driver = webdriver.Chrome(options=options, service=webdriver.ChromeService("/usr/bin/chromedriver"))
answer = {"views": [], "slider": None, "injected": None}

SHARE = "return [document.getElementById('share').value, getComputedStyle(document.querySelector('.pair .over')).clipPath]"

try:
    for across, down in question["sizes"]:
        for scheme in ("light", "dark"):
            driver.execute_cdp_cmd(
                "Emulation.setDeviceMetricsOverride",
                {"width": across, "height": down, "deviceScaleFactor": 1, "mobile": across < 600},
            )
            driver.execute_cdp_cmd(
                "Emulation.setEmulatedMedia", {"features": [{"name": "prefers-color-scheme", "value": scheme}]}
            )
            driver.get(pathlib.Path(question["page"]).resolve().as_uri())
            driver.execute_script(axe)
            found = driver.execute_async_script(
                "axe.run({runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa']}).then(arguments[0])"
            )
            answer["views"].append({
                "view": f"{across}x{down} {scheme}",
                "violations": [
                    f"{one['id']}: {one['help']}: {one['nodes'][0]['html'][:120]}" for one in found["violations"]
                ],
                "checks_passed": len(found["passes"]),
                "console": [entry["message"] for entry in driver.get_log("browser")],
                "asked": driver.execute_script(
                    "return performance.getEntriesByType('resource').map(e => e.name).filter(n => !n.startsWith('data:'))"
                ),
                "too_wide_px": driver.execute_script("return document.documentElement.scrollWidth - innerWidth"),
            })
    answer["injected"] = driver.execute_script("return window.injected === true")
    # The slider itself is clear: what is seen is the cut between the pictures.
    pairs = driver.find_elements(By.ID, "pair")
    if pairs and pairs[0].is_displayed():
        slider = driver.find_element(By.ID, "share")
        driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", slider)
        told = [driver.execute_script(SHARE)]
        quarter = slider.size["width"] // 4
        ActionChains(driver).move_to_element(slider).click_and_hold().move_by_offset(quarter, 0).release().perform()
        told.append(driver.execute_script(SHARE))
        slider.send_keys(Keys.ARROW_LEFT)
        told.append(driver.execute_script(SHARE))
        answer["slider"] = [{"share": float(share), "clip": clip} for share, clip in told]
finally:
    driver.quit()
json.dump(answer, sys.stdout)
