// The main job through the generated types: import a catalogue, page through the items, take a boat off, quote it, read
// the document, and meet the problems that a client meets.
//
// Its address comes from RIGBILL_URL and the owner key from RIGBILL_KEY, the file to import is the argument;
// or --too-much, with a service that allows little.

import { randomUUID } from "node:crypto";
import { readFileSync } from "node:fs";
import { Client, type Problem, type Schemas } from "./client";

function check(holds: boolean, what: string): asserts holds {
    if (!holds) throw new Error(`not so: ${what}`);
    console.log(`ok  ${what}`);
}

/** Fails with what was answered instead. */
function unexpected(answer: { status: number; body?: unknown }): never {
    throw new Error(`answered ${answer.status}: ${JSON.stringify(answer.body)}`);
}

/** Where a problem says that something is wrong: pointers into the body, names of query parameters. */
function places(problem: Problem): string[] {
    return (problem.errors ?? []).map((fault) => ("pointer" in fault ? fault.pointer : fault.parameter));
}

function boat(station: string): Schemas["BoatSpecInput"] {
    const ft = (value: number): Schemas["LengthValue"] => ({ value, unit: "ft" });
    return {
        boat: {
            name: "Petrel",
            job_type: "first_rig",
            propulsion: "outboard",
            stations: [
                { id: "helm", petrol_vapour: "no" },
                { id: "battery_box", petrol_vapour: "no" },
                { id: "aft_bilge", petrol_vapour: "yes" },
            ],
            runs: [
                { from: "battery_box", to: "helm", length: ft(9) },
                { from: "battery_box", to: "aft_bilge", length: ft(6.5), access: "tube" },
            ],
        },
        power: {
            banks: [{ id: "house", station: "battery_box", nominal_voltage_v: 12, cold_cranking_a: 650 }],
            panels: [{ id: "helm_panel", station: "helm", bank: "house", sku: "PNL6-BL" }],
        },
        equipment: [{ id: "pump", sku: "PUMP-BILGE-500A", quantity: 1, station }],
    };
}

async function importCatalogue(client: Client, csv: string): Promise<void> {
    const rows = csv.trim().split("\n").length - 1;
    const made = await client.call("post", "/v1/imports", { body: csv, contentType: "text/csv" });
    if (made.status !== 201) unexpected(made);
    check(made.body.state === "applied" && made.body.rows_read === rows, `import: ${rows} rows are applied`);
    const bad = csv.replace("20.50", "twenty");
    const refused = await client.call("post", "/v1/imports", { body: bad, contentType: "text/csv" });
    if (refused.status !== 422) unexpected(refused);
    const fault = refused.body.import?.report?.[0];
    check(fault?.column === "cost" && fault.line === 2, "import: a bad row is told by line and column");
}

async function pageThroughItems(client: Client): Promise<void> {
    const skus = new Set<string>();
    let warm = 0;
    let pages = 0;
    let cursor: string | undefined;
    do {
        const page = await client.call("get", "/v1/items", {
            query: { limit: 200, ...(cursor === undefined ? {} : { cursor }) },
        });
        if (page.status !== 200) unexpected(page);
        for (const { item } of page.body.rows) {
            skus.add(item.sku);
            // The tag narrows: only wire has an insulation.
            if (item.attributes.kind === "wire" && item.attributes.insulation_c >= 105) warm += 1;
        }
        cursor = page.body.next;
        pages += 1;
    } while (cursor !== undefined);
    check(pages > 4 && skus.size > 1000 && warm > 50, `items: ${skus.size} on ${pages} pages, each once`);
    const wrong = await client.call("get", "/v1/items", { query: { cursor: "made-up" } });
    check(wrong.status === 400 && wrong.body.type === "/problems/bad-cursor", "items: a made-up cursor is 400");
}

async function quote(client: Client): Promise<void> {
    const spec = boat("aft_bilge");
    const takeOff = await client.call("post", "/v1/take-offs", { body: spec, contentType: "application/json" });
    if (takeOff.status !== 200) unexpected(takeOff);
    const [circuit] = takeOff.body.circuits;
    check(circuit !== undefined && circuit.drop_percent < circuit.drop_limit_percent, "take-off: the drop is in its limit");

    const body: Schemas["QuoteRequest"] = { spec, customer: "A walk-in", priced_on: "2026-11-25" };
    const header = { "Idempotency-Key": randomUUID() };
    const created = await client.call("post", "/v1/quotes", { header, body, contentType: "application/json" });
    if (created.status !== 201) unexpected(created);
    const again = await client.call("post", "/v1/quotes", { header, body, contentType: "application/json" });
    check(again.status === 201 && again.body.id === created.body.id, "quote: the same key and request give the same quote");
    check(again.headers.get("Idempotent-Replay") === "true", "quote: the repeat says that it is one");
    const other = { ...body, customer: "Another walk-in" };
    const reused = await client.call("post", "/v1/quotes", { header, body: other, contentType: "application/json" });
    check(reused.status === 422 && reused.body.type === "/problems/key-reused", "quote: the key with another request is 422");
    const { id } = created.body;
    check(created.body.state === "draft" && created.body.total !== undefined, `quote: total ${created.body.total}`);
    const document = await client.call("get", "/v1/quotes/{id}/document", { path: { id } });
    if (document.status !== 200) unexpected(document);
    check(document.body.totals.total === created.body.total, "document: its total is the quote's");
    // A compressed answer is another representation (RFC 9110) and has a tag of its own, which begins alike.
    const tag = document.headers.get("ETag") ?? "";
    check(tag.startsWith(`"${created.body.document_hash}`), "document: its ETag is its hash");

    const seen = created.headers.get("ETag") ?? "";
    const change = { path: { id }, header: { "If-Match": seen }, body, contentType: "application/json" } as const;
    const replaced = await client.call("put", "/v1/quotes/{id}", change);
    check(replaced.status === 200 && replaced.headers.get("ETag") !== seen, "quote: replaced, with a new version");
    const stale = await client.call("put", "/v1/quotes/{id}", change);
    check(stale.status === 412 && stale.body.type === "/problems/stale", "quote: an old version is 412");
    const nowhere = { spec: boat("bridge"), customer: "" };
    const invalid = await client.call("post", "/v1/quotes", { body: nowhere, contentType: "application/json" });
    if (invalid.status !== 422) unexpected(invalid);
    const found = places(invalid.body).join(" ");
    check(found === "/customer /spec/equipment/0/station", `quote: 422 lists its places: ${found}`);
}

/** What the compiler must refuse: if it took these, the types would check nothing. */
export async function refusedByTheCompiler(client: Client): Promise<void> {
    // @ts-expect-error: no such field
    await client.call("post", "/v1/take-offs", { body: { ...boat("helm"), colour: "white" }, contentType: "application/json" });
    // @ts-expect-error: a version has to be named
    await client.call("delete", "/v1/quotes/{id}", { path: { id: "" } });
    // @ts-expect-error: no such method
    await client.call("delete", "/v1/settings", {});
}

async function conflict(client: Client): Promise<void> {
    const there = await client.call("get", "/v1/items/{sku}", { path: { sku: "PNL6-BL" } });
    // Only those who keep the catalogue are answered with the whole item.
    if (there.status !== 200 || !("buying_unit" in there.body)) unexpected(there);
    const body = there.body;
    const again = await client.call("post", "/v1/items", { body, contentType: "application/json" });
    check(again.status === 409 && again.body.type === "/problems/already-there", "item: one that is there is 409");
}

/** A key may do what its role may, and no key nothing. */
async function roles(client: Client, base: string): Promise<void> {
    const body = { name: `Screen in the yard ${randomUUID()}`, role: "reader" } as const;
    const issued = await client.call("post", "/v1/keys", { body, contentType: "application/json" });
    if (issued.status !== 201) unexpected(issued);
    const reader = new Client(base, issued.body.secret);
    const read = await reader.call("get", "/v1/packages", { query: { limit: 1 } });
    check(read.status === 200, "keys: a reader reads");
    const path = { sku: "PNL6-BL" };
    const retired = await reader.call("delete", "/v1/items/{sku}", { path, header: { "If-Match": '"v1"' } });
    check(retired.status === 403 && retired.body.type === "/problems/not-your-role", "keys: and changes nothing");
    const nobody = await new Client(base).call("get", "/v1/packages", {});
    check(nobody.status === 401 && nobody.body.type === "/problems/no-key", "keys: without a key nothing is told");
}

/** Asks until it is told to wait, and for how long. */
async function tooMuch(client: Client): Promise<void> {
    for (let n = 0; n < 10_000; n += 1) {
        const answer = await client.call("get", "/v1/packages", { query: { limit: 1 } });
        if (answer.status !== 429) continue;
        const wait = Number(answer.headers.get("Retry-After"));
        check(answer.body.type === "/problems/too-many" && wait > 0, `limits: 429 says when to come again: in ${wait} s`);
        return;
    }
    throw new Error("the service took everything");
}

async function main(): Promise<void> {
    const [file] = process.argv.slice(2);
    const base = process.env["RIGBILL_URL"];
    const key = process.env["RIGBILL_KEY"];
    if (base === undefined || key === undefined || file === undefined) {
        throw new Error("usage: RIGBILL_URL=http://… RIGBILL_KEY=rigbill_… desk.js FILE.csv");
    }
    const client = new Client(base, key);
    if (file === "--too-much") return tooMuch(client);
    await importCatalogue(client, readFileSync(file, "utf8"));
    await pageThroughItems(client);
    await quote(client);
    await conflict(client);
    await roles(client, base);
}

main().catch((error: unknown) => {
    console.error(error);
    process.exitCode = 1;
});
