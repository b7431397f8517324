// An app of ride logs in TypeScript, on types that openapi-typescript made of the document. `run` starts it.

import assert from "node:assert/strict";
import { createHmac, timingSafeEqual } from "node:crypto";
import { createServer, type IncomingHttpHeaders } from "node:http";
import type { AddressInfo } from "node:net";
import createClient from "openapi-fetch";
import type { components, paths } from "./schema.js";

type Ride = components["schemas"]["BatchRide"];

const { URL: baseUrl, CODE: code } = process.env as Record<string, string>;

function good<T extends { response: Response; error?: unknown; data?: unknown }>(answer: T): NonNullable<T["data"]> {
  if (!answer.response.ok) throw new Error(`${answer.response.status} ${JSON.stringify(answer.error)}`);
  return answer.data as NonNullable<T["data"]>;
}

function isOurs(secret: string, headers: IncomingHttpHeaders, body: Buffer): boolean {
  const key = Buffer.from(secret.replace("whsec_", ""), "base64");
  const ours = createHmac("sha256", key).update(`${headers["webhook-id"]}.${headers["webhook-timestamp"]}.`).update(body).digest();
  const told = String(headers["webhook-signature"]).split(" ").map((one) => Buffer.from(one.split(",")[1] ?? "", "base64"));
  return told.some((theirs) => theirs.length === ours.length && timingSafeEqual(theirs, ours));
}

// Link: the owner typed the code in.
const linked = good(await createClient<paths>({ baseUrl }).POST("/v1/link-redemptions", { body: { code: code! } }));
const api = createClient<paths>({ baseUrl, headers: { Authorization: `Bearer ${linked.token}` } });
console.log(`linked to ${linked.workshop} as ${linked.label}`);

// The rider's bike, under our own id.
const bike = good(await api.PUT("/v1/bikes/by-external-id/{external_id}", {
  params: { path: { external_id: "bike-1" } }, body: { label: "Anna 1", use: "road", fitted_on: "2026-01-01" },
}));
let place = good(await api.GET("/v1/changes", { params: { query: { since: "now" } } })).next;

let remind: (message: [IncomingHttpHeaders, Buffer]) => void;
const reminded = new Promise<[IncomingHttpHeaders, Buffer]>((resolve) => { remind = resolve; });
const receiver = createServer((request, response) => {
  const parts: Buffer[] = [];
  request.on("data", (part) => parts.push(part)).on("end", () => {
    remind([request.headers, Buffer.concat(parts)]);
    response.writeHead(204).end();
  });
});
await new Promise<void>((resolve) => receiver.listen(0, "127.0.0.1", resolve));
const hook = good(await api.POST("/v1/hooks", {
  body: { label: "ride log", url: `http://127.0.0.1:${(receiver.address() as AddressInfo).port}/`, events: ["outlook.swap_now"] },
}));

// 500 rides: the last fifty first, then the others, forty of them twice, and twenty that a watch logged as well.
const began = Date.UTC(2026, 0, 2, 8);
const ride = (number: number, source = "log", km = 12): Ride => ({
  bike_external_id: "bike-1", started_at: new Date(began + number * 12 * 3_600_000 + (source === "watch" ? 120_000 : 0)).toISOString(),
  distance_km: km, source, source_id: `${source}-${number}`,
});
const rides = Array.from({ length: 500 }, (_, number) => ride(number));
const sent = [...rides.slice(450), ...rides.slice(0, 450), ...rides.slice(100, 140)];
for (let first = 0; first < sent.length; first += 200) {
  const report = good(await api.POST("/v1/rides", { body: { rides: sent.slice(first, first + 200) } }));
  console.log(`sent ${report.rides.length}: ${report.accepted} new, ${report.unchanged} known, ${report.failed.length} refused`);
}
const watch = good(await api.POST("/v1/rides", { body: { rides: Array.from({ length: 20 }, (_, number) => ride(number, "watch", 12.1)) } }));
const toldTwice = watch.warnings.filter((warning) => ["counted_with", "counts_for"].includes(warning.code));
console.log(`watch: ${watch.accepted} new, ${toldTwice.length} of them rides that are there`);
const outlookOf = async () => good(await api.GET("/v1/bikes/{bike_id}/outlook", { params: { path: { bike_id: bike.id } } }));
let outlook = await outlookOf();
assert.ok(Math.abs(outlook.basis.distance_km - 6000) < 1e-6);
console.log(`due in ${Math.round(outlook.remaining_km!.p50)} km (${outlook.advice}): ${outlook.reason}`);

// A mistake: a ride was 21 km, and another one never was.
const find = async (source_id: string) => {
  const found = good(await api.GET("/v1/rides", { params: { query: { source: "log", source_id } } })).items[0]!;
  const path = { bike_id: bike.id, ride_id: found.id };
  const read = await api.GET("/v1/bikes/{bike_id}/rides/{ride_id}", { params: { path } });
  return { path, header: { "If-Match": read.response.headers.get("etag")! } };
};
good(await api.PATCH("/v1/bikes/{bike_id}/rides/{ride_id}", { params: await find("log-100"), body: { distance_km: 21 } }));
good(await api.DELETE("/v1/bikes/{bike_id}/rides/{ride_id}", { params: await find("log-8") }));
const late = good(await api.POST("/v1/rides", { body: { rides: [ride(8)] } }));
assert.deepEqual([late.accepted, late.rides[0]!.outcome], [0, "deleted"]);
outlook = await outlookOf();
// The watch's telling of ride 8 counts now that the log's is gone.
assert.ok(Math.abs(outlook.basis.distance_km - (6000 + 9 - 12 + 12.1)) < 1e-6, String(outlook.basis.distance_km));

// A reading that says swap, and the reminder.
good(await api.POST("/v1/bikes/{bike_id}/readings", {
  params: { path: { bike_id: bike.id } }, body: { taken_at: "2026-11-20T17:00:00Z", instrument: "dial", spots: [0.95, 0.97, 0.96] },
}));
const [headers, body] = await reminded;
assert.ok(isOurs(hook.secret, headers, body), "a signature that isn't ours");
console.log(`reminded, verified: ${body.toString().slice(0, 60)}…`);

// Follow what changed since the beginning.
const counts = new Map<string, number>();
for (let more = true; more; ) {
  const changes = good(await api.GET("/v1/changes", { params: { query: { since: place, limit: 1000 } } }));
  for (const change of changes.items) {
    const key = change.kind + (change.gone ? " gone" : "");
    counts.set(key, (counts.get(key) ?? 0) + 1);
  }
  ({ next: place, more } = changes);
}
console.log("changes:", [...counts].sort().map(([kind, count]) => `${count} ${kind}`).join(", "));
assert.deepEqual([counts.get("ride gone"), counts.get("reading")], [1, 1]);
receiver.close();
