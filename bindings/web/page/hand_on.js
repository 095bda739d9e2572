// The job handed on: as a file, a link, a code for another phone's camera; and what is remembered.
"use strict";

const memory = {
  get() { try { return localStorage.getItem("libcure-job"); } catch { return null; } },
  put(job) { try { localStorage.setItem("libcure-job", JSON.stringify(job)); } catch { $("remember").checked = false; } },
  clear() { try { localStorage.removeItem("libcure-job"); } catch { /* there is nothing */ } },
};

const encode = (job) => btoa(String.fromCharCode(...new TextEncoder().encode(JSON.stringify(job)))).replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");
const decode = (text) => JSON.parse(new TextDecoder().decode(Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), (c) => c.charCodeAt(0))));

const linkOf = (job) => location.href.split("#")[0] + "#job=" + encode(job);

/** Only answers go into a link or a code; a case is a file. */
function arrange() {
  for (const id of ["form", "link", "code"]) $(id).hidden = opened !== null;
  $("link-line").hidden = true;
  $("code-place").replaceChildren();
}

/** A job or a case of a person's: the text of a file, a link, or what a code says. @throws Error */
function take(text, name) {
  const link = /#job=([\w-]+)/.exec(text);
  const document = link ? decode(link[1]) : JSON.parse(text);
  if (document?.format === "libcure/case/1") {
    opened = { document, name };
  } else {
    putDocument(document);
    opened = null;
  }
  arrange();
  changedAnswers();
}

/** Of a page that is served the code is a link that any camera opens; of a file, whose address is of this device alone, the job
 * itself, to be put into the other's page. */
async function showCode() {
  const job = jobDocument();
  const text = location.protocol === "file:" ? JSON.stringify(job) : linkOf(job);
  const found = await engine.ask({ qr: text });
  if (found.error) return $("open-error").replaceChildren(found.error.message);
  const svg = draw("svg", { viewBox: `0 0 ${found.size} ${found.size}`, role: "img", "aria-label": say("code"), "shape-rendering": "crispEdges", class: "code" },
    draw("rect", { width: found.size, height: found.size, fill: "#ffffff" }), draw("path", { d: found.path, fill: "#000000" }));
  $("code-place").replaceChildren(paragraph(say("code_lead")), svg);
}

function listenToHandingOn() {
  $("save").addEventListener("click", () => saveAs("job.json", "application/json", JSON.stringify(opened ? opened.document : jobDocument(), null, 2) + "\n"));
  $("link").addEventListener("click", () => {
    $("link-line").hidden = false;
    $("link-text").value = linkOf(jobDocument());
    $("link-text").select();
  });
  $("code").addEventListener("click", showCode);
  $("clear").addEventListener("click", () => {
    opened = null;
    arrange();
    putDocument({ format: "libcure/job/1", units });
    memory.clear();
    changedAnswers();
  });
  const taking = (text, name) => {
    $("open-error").textContent = "";
    try {
      take(text, name);
    } catch (error) {
      $("open-error").textContent = `${name}: ${error.message}`;
    }
  };
  $("open").addEventListener("change", async () => {
    const file = $("open").files[0];
    if (file) taking(await file.text(), file.name);
  });
  $("paste").addEventListener("change", () => {
    if ($("paste").value.trim()) taking($("paste").value, say("paste"));
  });
  $("remember").addEventListener("change", () => {
    if ($("remember").checked) memory.put(jobDocument());
    else memory.clear();
  });
}
