// SPDX-License-Identifier: Apache-2.0
import { defineConfig } from 'vite';

// Nothing is inlined: the pages are served under a content security policy that lets only files of their own in.
export default defineConfig({
  esbuild: { jsx: 'automatic', jsxImportSource: 'preact', legalComments: 'none' },
  build: {
    target: 'es2020',
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    cssCodeSplit: false,
    reportCompressedSize: false,
    rollupOptions: {
      output: {
        entryFileNames: 'assets/[name]-[hash].js',
        chunkFileNames: 'assets/[name]-[hash].js',
        assetFileNames: 'assets/[name]-[hash][extname]',
      },
    },
  },
});
