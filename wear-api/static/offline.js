// Keeps what was looked at, so that it opens without a connection. Runs beside the pages, as their service worker.
"use strict";
const PAGES = "wear-pages";
const PARTS = "wear-parts";
const OFFLINE = "/offline";
const MOST = 80;

self.addEventListener("install", (event) => {
  const parts = ["/static/pages.css", "/static/pages.js", "/static/mark.svg", OFFLINE];
  event.waitUntil(caches.open(PARTS).then((cache) => cache.addAll(parts)).then(() => self.skipWaiting()));
});
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

// Whoever signs out, or is signed out, leaves nothing behind.
self.addEventListener("message", (event) => {
  if (event.data === "forget") event.waitUntil(caches.delete(PAGES));
});

const keep = async (request, answer) => {
  const cache = await caches.open(PAGES);
  const page = await answer.text();
  const at = new Date().toISOString();
  // The page says of itself how old it is.
  const old = page.replace("<body ", `<body data-kept-at="${at}" `);
  const headers = new Headers({ "content-type": "text/html; charset=utf-8" });
  const policy = answer.headers.get("content-security-policy");
  if (policy) headers.set("content-security-policy", policy);
  await cache.delete(request.url);
  await cache.put(request.url, new Response(old, { headers }));
  const all = await cache.keys();
  await Promise.all(all.slice(0, Math.max(0, all.length - MOST)).map((one) => cache.delete(one)));
};

const page = async (event) => {
  const { request } = event;
  try {
    const answer = await fetch(request);
    const isPage = (answer.headers.get("content-type") ?? "").startsWith("text/html");
    if (answer.ok && isPage && !answer.redirected) event.waitUntil(keep(request, answer.clone()));
    return answer;
  } catch {
    const kept = await caches.match(request.url, { cacheName: PAGES });
    return kept ?? (await caches.match(OFFLINE, { cacheName: PARTS })) ?? Response.error();
  }
};

const part = async (event) => {
  try {
    const answer = await fetch(event.request);
    if (answer.ok) {
      const copy = answer.clone();
      event.waitUntil(caches.open(PARTS).then((cache) => cache.put(event.request, copy)));
    }
    return answer;
  } catch {
    return (await caches.match(event.request, { cacheName: PARTS })) ?? Response.error();
  }
};

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== self.location.origin) return;
  if (request.mode === "navigate" && !address.pathname.startsWith("/sign-")) event.respondWith(page(event));
  else if (address.pathname.startsWith("/static/")) event.respondWith(part(event));
});
