import { once } from 'node:events'
import { createServer, type IncomingHttpHeaders, type ServerResponse } from 'node:http'
import { createServer as createSecureServer, type ServerOptions } from 'node:https'

export interface Received {
  readonly method: string | undefined
  readonly path: string | undefined
  readonly headers: IncomingHttpHeaders
  readonly body: string
}

/** How to answer: a status, a status with headers or a body of its own, nothing at all, or a broken connection. */
export type Reply =
  | number
  | { readonly status: number; readonly headers?: Readonly<Record<string, string>>; readonly body?: string }
  | 'nothing'
  | 'reset'

export interface WebhookReceiver {
  readonly url: string
  readonly port: number
  /** Everything that came, in order, answered or not. */
  readonly received: readonly Received[]
  /** Ids of the events that were answered with 2xx, in order. */
  readonly taken: readonly string[]
  /** Connections so far. */
  readonly connections: () => number
  readonly stop: () => Promise<void>
}

export interface ReceiverOptions {
  readonly host?: string
  readonly port?: number
  readonly tls?: ServerOptions
}

/** A web server of the receiving side on loopback. @param reply asked for each request, with how many came before */
export async function startReceiver(
  reply: (request: Received, before: number) => Reply,
  { host = '127.0.0.1', port = 0, tls }: ReceiverOptions = {},
): Promise<WebhookReceiver> {
  const received: Received[] = []
  const taken: string[] = []
  let connections = 0
  const listener: Parameters<typeof createServer>[1] = (request, response) => {
    const chunks: Buffer[] = []
    request.on('data', (chunk: Buffer) => chunks.push(chunk))
    request.once('end', () => {
      const { method, url: path, headers } = request
      const came = { method, path, headers, body: Buffer.concat(chunks).toString() }
      const before = received.push(came) - 1
      const status = answer(response, reply(came, before))
      if (status >= 200 && status < 300) taken.push(headers['webhook-id'] as string)
    })
  }
  const server = tls === undefined ? createServer(listener) : createSecureServer(tls, listener)
  server.on(tls === undefined ? 'connection' : 'secureConnection', () => connections++)
  server.listen(port, host)
  await once(server, 'listening')
  const address = server.address()
  if (typeof address !== 'object' || address === null) throw new Error('no port')
  return {
    url: `${tls === undefined ? 'http' : 'https'}://${host}:${address.port}/hook`,
    port: address.port,
    received,
    taken,
    connections: () => connections,
    stop: async () => {
      if (!server.listening) return
      server.closeAllConnections()
      await once(server.close(), 'close')
    },
  }
}

/** @returns the status, 0 for none */
function answer(response: ServerResponse, reply: Reply): number {
  if (reply === 'nothing') return 0
  if (reply === 'reset') {
    response.socket?.resetAndDestroy()
    return 0
  }
  const { status, headers = {}, body = '' } = typeof reply === 'number' ? { status: reply } : reply
  response.writeHead(status, headers)
  response.end(body)
  return status
}
