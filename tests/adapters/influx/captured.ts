import { once } from 'node:events'
import { createServer } from 'node:http'

export interface Captured {
  readonly url: string
  /** What was posted, oldest first. */
  readonly posts: readonly { readonly path: string; readonly login: string | undefined; readonly body: string }[]
  readonly stop: () => Promise<void>
}

/** A web server that keeps what is posted and gives the answers in turn, then 204 for ever. */
export async function capturePosts(
  answers: readonly { readonly status: number; readonly body: string }[] = [],
): Promise<Captured> {
  const posts: { path: string; login: string | undefined; body: string }[] = []
  const server = createServer((request, response) => {
    let body = ''
    request.on('data', (chunk: Buffer) => (body += chunk.toString()))
    request.on('end', () => {
      const answer = answers[posts.length]
      posts.push({ path: request.url ?? '', login: request.headers.authorization, body })
      response.statusCode = answer?.status ?? 204
      response.end(answer?.body)
    })
  }).listen(0, '127.0.0.1')
  await once(server, 'listening')
  const address = server.address()
  if (typeof address !== 'object' || address === null) throw new Error('no port')
  return {
    url: `http://127.0.0.1:${address.port}`,
    posts,
    stop: async () => {
      server.closeAllConnections()
      server.close()
      await once(server, 'close')
    },
  }
}
