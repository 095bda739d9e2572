// Only in a page that is served: it can be installed, and is kept for flight mode.
for (const [rel, href] of [["manifest", "manifest.webmanifest"], ["icon", "icon.svg"]]) document.head.append(make("link", { rel, href }));
navigator.serviceWorker?.register("service-worker.js");
