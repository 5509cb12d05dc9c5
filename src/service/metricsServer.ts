import { createServer, type IncomingMessage, type ServerResponse } from 'node:http'
import { sayListenError } from '../adapters/sayListenError.js'
import { type Metrics, OPEN_METRICS_TYPE, TEXT_TYPE } from './metrics.js'

export interface MetricsServer {
  readonly port: number
  readonly close: () => Promise<void>
}

export type StartedMetrics =
  { readonly ok: true; readonly server: MetricsServer } | { readonly ok: false; readonly problem: string }

export interface MetricsAddress {
  readonly host: string
  readonly port: number
}

const PATH = '/metrics'

/** Answers `GET /metrics`, and nothing else. It has no login and no TLS: by default it listens on this machine only. */
export async function startMetricsServer({ host, port }: MetricsAddress, metrics: Metrics): Promise<StartedMetrics> {
  const server = createServer((request, response) => void answer(request, response, metrics))
  server.maxConnections = 20
  server.requestTimeout = 10_000
  try {
    await new Promise<void>((resolve, reject) => {
      server.once('error', reject)
      server.listen(port, host, resolve)
    })
  } catch (error) {
    return { ok: false, problem: `metrics cannot be served on ${host}:${String(port)}: ${sayListenError(error)}` }
  }
  const address = server.address()
  return {
    ok: true,
    server: {
      port: typeof address === 'object' && address !== null ? address.port : port,
      close: () =>
        new Promise(resolve => {
          server.close(() => resolve())
          server.closeAllConnections()
        }),
    },
  }
}

/** Reads `HOST:PORT`, `[IPv6]:PORT` or a port alone, on this machine only. */
export function parseMetricsAddress(text: string): MetricsAddress | undefined {
  const parts = /^(?:(?:\[([\da-fA-F:.]+)\]|([\w.-]+)):)?(\d{1,5})$/.exec(text)
  if (parts === null || Number(parts[3]) > 65_535) return undefined
  return { host: parts[1] ?? parts[2] ?? '127.0.0.1', port: Number(parts[3]) }
}

async function answer(request: IncomingMessage, response: ServerResponse, metrics: Metrics): Promise<void> {
  const { method, url = '' } = request
  if (url.split('?')[0] !== PATH) {
    end(response, 404, `${PATH} is all there is here`)
    return
  }
  if (method !== 'GET' && method !== 'HEAD') {
    response.setHeader('Allow', 'GET, HEAD')
    end(response, 405, 'can be read only')
    return
  }
  const type = wantsOpenMetrics(request.headers.accept ?? '') ? OPEN_METRICS_TYPE : TEXT_TYPE
  try {
    const body = await metrics.expose(type)
    response.writeHead(200, { 'Content-Type': type, Vary: 'Accept' })
    response.end(method === 'HEAD' ? undefined : body)
  } catch {
    // What a plant tells of itself comes out of its store, which may be lost just then; the service says so itself.
    end(response, 503, 'cannot be read at the moment')
  }
}

function end(response: ServerResponse, status: number, text: string): void {
  response.writeHead(status, { 'Content-Type': 'text/plain; charset=utf-8' })
  response.end(`${text}\n`)
}

/**
 * True where the version of OpenMetrics we write is asked for by name, and liked no less than plain text (RFC 9110,
 * 12.5.1; OpenMetrics 1.0, "Protocol Negotiation"). Wildcards get plain text.
 */
export function wantsOpenMetrics(accept: string): boolean {
  const ranges = accept.split(',').map(readRange)
  const open = ranges.filter(
    ({ type, version }) => type === 'application/openmetrics-text' && (version === undefined || version === '1.0.0'),
  )
  const liking = (of: readonly { readonly quality: number }[]) => Math.max(0, ...of.map(({ quality }) => quality))
  return liking(open) > 0 && liking(open) >= liking(ranges.filter(({ type }) => type === 'text/plain'))
}

function readRange(text: string): { type: string; version: string | undefined; quality: number } {
  const [type = '', ...parameters] = text.split(';').map(part => part.trim().toLowerCase())
  const valueOf = (name: string) => parameters.find(part => part.startsWith(`${name}=`))?.slice(name.length + 1)
  const quality = Number(valueOf('q') ?? 1)
  return { type, version: valueOf('version'), quality: quality >= 0 && quality <= 1 ? quality : 0 }
}
