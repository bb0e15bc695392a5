// A thin client: fetch, typed by the generated paths. What an operation takes and what it may answer come from the
// description alone; narrowing on `status` tells which answer it is.

import type { components, paths } from "./api";

export type Schemas = components["schemas"];
export type Problem = Schemas["Problem"];

type Method = "get" | "post" | "put" | "delete";

/** The methods that a path takes. */
type MethodOf<Path extends keyof paths> = {
    [M in Method]: paths[Path][M] extends undefined ? never : M;
}[Method];

type Group = "path" | "query" | "header";

/** What the parameters of an operation hold: a group may be left out where none of its parameters has to be given. */
type Parameters<Op> = Op extends { parameters: infer Groups }
    ? { [G in keyof Groups & Group as undefined extends Groups[G] ? never : G]: Groups[G] } & {
          [G in keyof Groups & Group as undefined extends Groups[G] ? G : never]?: Exclude<Groups[G], undefined>;
      }
    : never;

type Body<Op> = Op extends { requestBody: { content: infer Content } }
    ? { body: Content[keyof Content]; contentType: keyof Content & string }
    : unknown;

type ContentOf<Response> = Response extends { content: infer Content } ? Content[keyof Content] : undefined;

/** One of the described answers. */
export type Answer<Op> = Op extends { responses: infer Responses }
    ? { [S in keyof Responses]: { status: S; headers: Headers; body: ContentOf<Responses[S]> } }[keyof Responses]
    : never;

export class Client {
    constructor(
        private readonly base: string,
        private readonly key?: string,
    ) {}

    async call<Path extends keyof paths & string, M extends MethodOf<Path>>(
        method: M,
        path: Path,
        sent: Parameters<paths[Path][M]> & Body<paths[Path][M]>,
    ): Promise<Answer<paths[Path][M]>> {
        const given = sent as {
            path?: Record<string, string>;
            query?: Record<string, unknown>;
            header?: Record<string, string | undefined>;
            body?: unknown;
            contentType?: string;
        };
        const address = path.replace(/\{(\w+)\}/g, (_, name: string) => encodeURIComponent(given.path?.[name] ?? ""));
        const url = new URL(address, this.base);
        for (const [name, value] of Object.entries(given.query ?? {})) {
            if (value !== undefined) url.searchParams.set(name, String(value));
        }
        const headers = new Headers();
        for (const [name, value] of Object.entries(given.header ?? {})) {
            if (value !== undefined) headers.set(name, value);
        }
        if (this.key !== undefined) headers.set("Authorization", `Bearer ${this.key}`);
        let body: string | undefined;
        if (given.contentType !== undefined) {
            headers.set("Content-Type", given.contentType);
            body = given.contentType === "application/json" ? JSON.stringify(given.body) : String(given.body);
        }
        const response = await fetch(url, { method: method.toUpperCase(), headers, body: body ?? null });
        const text = await response.text();
        const json = /[/+]json/.test(response.headers.get("Content-Type") ?? "");
        const answered: unknown = json && text !== "" ? JSON.parse(text) : undefined;
        return { status: response.status, headers: response.headers, body: answered } as Answer<paths[Path][M]>;
    }
}
